/** Going back to a record, the cell it is bound to, and a check that moves its due. */
import { describe, expect, it } from "vitest";
import { type CalibrationRecord, calibrationRecordSchema } from "../../../calibration/record.ts";
import type { Outcome } from "../../../protocol/requests/response.ts";
import { BEGINS_MS, type Bench, CALIBRATION_ID, readyBench, record } from "./bench.ts";

const FORMER_ID = "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d22";
const former = (changes: Partial<CalibrationRecord> = {}): CalibrationRecord =>
  calibrationRecordSchema.parse(record({ calibration_id: FORMER_ID, counts_per_N: 380, ...changes }));
const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

/** As the service asks it: with what the store has under the id. */
function use(bench: Bench, kept: CalibrationRecord | null, calibration_id = FORMER_ID): Outcome | null {
  const request_id = `use-${bench.recorded.length}`;
  const request = { verb: "calibration-use", args: { station: "leg-press", calibration_id } } as const;
  bench.give({ kind: "use", ask: { request_id, request, by: "tech-1", door: "socket" }, record: kept });
  return bench.did("answer").find((answer) => answer.request_id === request_id)?.outcome ?? null;
}

const putInForce = (bench: Bench, kept: CalibrationRecord, due: string | null = null): void =>
  void bench.give({ kind: "calibration", record: kept, zero: null, due });

describe("a kept record is put in force again", () => {
  it("by the store first, answered only then, and its zero is the calibrated one", () => {
    const bench = readyBench();
    expect(use(bench, former())).toBeNull();
    const [asked, ...more] = bench.did("use-calibration");
    expect(more).toEqual([]);
    expect(asked).toMatchObject({
      use: { calibration_id: FORMER_ID, at: expect.stringMatching(/^2026-11-24T10:00/), performed_by: "tech-1" },
      outcome: {
        ok: true,
        result: {
          calibration_id: FORMER_ID,
          formerly: CALIBRATION_ID,
          changed: true,
          zero: "calibrated",
          warnings: [],
          hint: expect.stringMatching(/^Zero with nothing/),
        },
      },
    });
    expect(bench.last("sensor")).toMatchObject({ calibration_id: CALIBRATION_ID });
    putInForce(bench, former());
    expect(bench.last("sensor")).toMatchObject({ calibration_id: FORMER_ID, ready: true });
    // 1000 N by the bench's own 400 counts per N.
    expect(bench.pull(0.2, 1000).force_N).toBeCloseTo((1000 * 400) / 380, 0);
  });

  it("meanwhile nobody measures by the one that stands: begin, zero, calibrate and use wait", () => {
    const bench = readyBench();
    use(bench, former());
    const busy = { ok: false, error: { code: "busy", message: expect.stringContaining("being put in force") } };
    expect(bench.ask("begin", HOLD)).toMatchObject(busy);
    expect(bench.ask("zero")).toMatchObject(busy);
    expect(bench.ask("calibration-begin")).toMatchObject(busy);
    expect(use(bench, former())).toMatchObject(busy);
    expect(bench.last("sensor")).toMatchObject({ ready: false });
    bench.give({ kind: "calibration-not-kept" });
    expect(bench.last("sensor")).toMatchObject({ ready: true, calibration_id: CALIBRATION_ID });
    expect(bench.ask("begin", HOLD)).toMatchObject({ ok: true });
  });

  it("not where it is in force already: that is said, and nothing is written", () => {
    const bench = readyBench();
    const outcome = use(bench, record(), CALIBRATION_ID);
    expect(outcome).toEqual({
      ok: true,
      result: { calibration_id: CALIBRATION_ID, formerly: CALIBRATION_ID, changed: false, warnings: [] },
    });
    expect(bench.did("use-calibration")).toEqual([]);
    expect(bench.last("sensor")).toMatchObject({ ready: true });
  });

  it("not under somebody, nor beside a calibration, and it is said whose", () => {
    const armed = readyBench().begin({ trainee: "heron-07", ...HOLD });
    expect(use(armed, former())).toMatchObject({ error: { code: "busy", message: expect.stringMatching(/heron-07/) } });
    const calibrated = readyBench();
    calibrated.ask("calibration-begin", {}, "socket", "tech-2");
    // Not even the one in force: when the other is accepted in a moment, this one no longer is.
    for (const [kept, id] of [
      [former(), FORMER_ID],
      [record(), CALIBRATION_ID],
    ] as const) {
      expect(use(calibrated, kept, id)).toMatchObject({
        error: { code: "busy", message: expect.stringMatching(/tech-2/) },
      });
    }
    expect([...armed.did("use-calibration"), ...calibrated.did("use-calibration")]).toEqual([]);
  });

  it("though it is of another board, with a warning: the board may be the next thing to go back", () => {
    const bench = readyBench();
    const other = former({ board: "press-right" });
    use(bench, other);
    const { outcome } = bench.did("use-calibration").at(-1) as { outcome: Outcome };
    expect(outcome).toMatchObject({
      ok: true,
      result: {
        changed: true,
        warnings: [expect.stringMatching(/taken with board press-right, and this is press-left/)],
      },
    });
    putInForce(bench, other);
    expect(bench.alarm("calibration-mismatch")).toMatch(/press-right/);
    expect(bench.pull(1, 100).force_N).toBeNull();
  });

  it("where none was in force", () => {
    const bench = readyBench({ record: null });
    use(bench, former());
    expect(bench.did("use-calibration").at(-1)?.outcome).toMatchObject({ result: { formerly: null, changed: true } });
  });
});

describe("a record is bound to the cell", () => {
  it.each([
    ["LC-1", "LC-2", /taken with cell LC-1, and the configuration says this is LC-2: calibrate, or put it back/],
    ["LC-1", "LC-1", null],
    ["LC-1", undefined, null],
    [null, "LC-2", null],
    [undefined, "LC-2", null],
  ])("taken with %s where the configuration says %s", (was, is, alarm) => {
    const kept = was === undefined ? record() : record({ cell: was });
    const bench = readyBench({ record: kept, station: { cell: is } });
    const told = bench.alarm("calibration-mismatch");
    if (alarm === null) expect(told).toBeNull();
    else expect(told).toMatch(alarm);
    expect(bench.pull(1, 100).force_N === null).toBe(alarm !== null);
  });

  it("and to its capacity", () => {
    const bench = readyBench({ record: record({ cell_capacity_N: 2000 }) });
    expect(bench.alarm("calibration-mismatch")).toMatch(/a cell of 2000 N, and the configuration says 5000 N/);
    expect(bench.pull(1, 100).force_N).toBeNull();
  });
});

describe("a check that is kept", () => {
  const day = (days: number): string => new Date(BEGINS_MS + days * 86_400_000).toISOString();

  it("moves the day the calibration is due, and the alarm goes", () => {
    const bench = readyBench({ record: record({ due: day(-3) }) });
    expect(bench.alarm("calibration-due")).toMatch(/due by 2026-11-21, 3 days ago: check it/);
    expect(bench.last("sensor")).toMatchObject({ calibration_due: day(-3) });
    bench.give({ kind: "check-kept", due: day(365) });
    expect(bench.alarm("calibration-due")).toBeNull();
    expect(bench.last("sensor")).toMatchObject({ calibration_due: day(365) });
    expect(bench.wait(2).alarm("calibration-due")).toBeNull();
  });

  it("that names no later day leaves it overdue", () => {
    const bench = readyBench({ record: record({ due: day(-1) }) });
    bench.give({ kind: "check-kept", due: day(-1) });
    expect(bench.alarm("calibration-due")).toMatch(/, a day ago: check it/);
    bench.give({ kind: "check-kept" });
    expect(bench.last("sensor")).toMatchObject({ calibration_due: day(-1) });
  });

  it("counts from the start on, as the store reckons it", () => {
    const bench = readyBench({ record: record({ due: day(-3) }) });
    putInForce(bench, record({ due: day(-3) }), day(30));
    expect(bench.wait(2).alarm("calibration-due")).toBeNull();
    expect(bench.last("sensor")).toMatchObject({ calibration_due: day(30) });
  });
});
