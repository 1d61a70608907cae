import { describe, expect, it } from "vitest";
import { type CalibrationRecord, calibrationRecordSchema, checkRecordSchema } from "../../../calibration/record.ts";
import {
  calibrationAbandonResultSchema,
  calibrationAcceptResultSchema,
  calibrationBeginResultSchema,
  calibrationCheckResultSchema,
  calibrationLoadResultSchema,
  calibrationZeroResultSchema,
} from "../../../protocol/requests/results.ts";
import { type Bench, CALIBRATION_ID, readyBench, record, UNNAMED } from "./bench.ts";

/** 100 kg at 52 degrees and sea level: WGS84 normal gravity 9.81243 m/s2, less the air's buoyancy (about 150 ppm). */
const HUNDRED_KG_N = 100 * 9.81243 * (1 - 1.5e-4);

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

/** Unloaded and loaded points, taken; the service gives 23 s of device time to each. */
function pointsTaken(bench: Bench, load_N: number): Bench {
  expect(bench.ask("calibration-begin", {}, "socket", "tech-1")).toMatchObject({ ok: true });
  expect(bench.ask("calibration-zero")).toBeNull();
  bench.pull(24, 0);
  expect(bench.answer()).toMatchObject({ ok: true });
  bench.pull(2, load_N);
  expect(bench.ask("calibration-load", { mass_kg: 100, relative_tolerance: 0.001 })).toBeNull();
  bench.pull(24, load_N);
  expect(bench.answer()).toMatchObject({ ok: true });
  return checked(bench, load_N / 2);
}

/** Half the load, hung as a check. */
function checked(bench: Bench, check_N: number): Bench {
  bench.pull(2, check_N);
  expect(bench.ask("calibration-check", { mass_kg: 50, relative_tolerance: 0.001, loading: "increasing" })).toBeNull();
  bench.pull(24, check_N);
  expect(bench.answer()).toMatchObject({ ok: true, result: { when: "as-left" } });
  return bench;
}

/** The store has kept it, as the service tells the station. */
function kept(bench: Bench): CalibrationRecord {
  const saved = bench.did("save-calibration").at(-1);
  if (saved === undefined) throw new Error("nothing was saved");
  bench.give({ kind: "calibration", record: saved.record, zero: null });
  return saved.record;
}

describe("two points at a station", () => {
  it("end to end, on a source twenty times as fast as the host's clock", () => {
    const bench = readyBench({ host_speed: 0.05, record: record({ counts_per_N: 396, zero_counts: 11_000 }) });
    // The true scale is the bench's own; the record in force is a little off.
    pointsTaken(bench, HUNDRED_KG_N);
    expect(bench.ask("calibration-accept", { note: "after the new cable", due: "2027-11-24T10:00:00Z" })).toBeNull();
    const made = kept(bench);
    expect(calibrationRecordSchema.parse(made)).toMatchObject({
      station: "leg-press",
      performed_by: "tech-1",
      board: "press-left",
      amplifier: "hx711",
      gain: 128,
      due: "2027-11-24T10:00:00.000Z",
      note: "after the new cable",
    });
    expect(made.checks?.map(({ when, force_N }) => [when, Math.round(force_N)])).toEqual([["as-left", 491]]);
    expect(made.counts_per_N / 396).toBeCloseTo(1, 3);
    expect(made.zero_counts).toBeCloseTo(11_000, -1);
    expect(made.expanded_uncertainty_N).toBeGreaterThan(0);
    expect(bench.last("sensor")).toMatchObject({ ready: true, calibration_id: made.calibration_id });
    expect(bench.pull(0.1, 500).force_N).toBeCloseTo(500, 0);
  });

  it("answers every step as its result is published", () => {
    const bench = readyBench();
    const result = (): unknown => {
      const answer = bench.answer();
      if (answer?.ok !== true) throw new Error(answer?.error.message);
      return answer.result;
    };
    bench.ask("calibration-begin");
    expect(calibrationBeginResultSchema.parse(result())).toMatchObject({
      station: "leg-press",
      dwell_s: 20,
      window_s: 3,
      in_force: CALIBRATION_ID,
    });
    bench.ask("calibration-check", { force_N: 500, loading: "increasing" });
    bench.pull(24, 500);
    expect(calibrationCheckResultSchema.parse(result()).when).toBe("as-found");
    bench.ask("calibration-zero");
    bench.pull(24, 0);
    expect(calibrationZeroResultSchema.parse(result()).mean_counts).toBeCloseTo(12_000, -2);
    bench.ask("calibration-load", { force_N: 1000 });
    bench.pull(24, 1000);
    expect(calibrationLoadResultSchema.parse(result())).toMatchObject({ force_N: 1000, friction_N: null });
    bench.ask("calibration-check", { force_N: 500, loading: "increasing" });
    bench.pull(24, 500);
    expect(calibrationCheckResultSchema.parse(result()).when).toBe("as-left");
    bench.ask("calibration-accept");
    const [saved] = bench.did("save-calibration");
    const accepted = saved?.outcome.ok ? saved.outcome.result : null;
    expect(calibrationAcceptResultSchema.parse(accepted)).toEqual(saved?.record);
    expect(accepted).not.toHaveProperty("check_id");
    bench.give({ kind: "calibration-not-kept" });
    bench.ask("calibration-abandon");
    expect(calibrationAbandonResultSchema.parse(result())).toEqual({ abandoned: true });
  });

  it("works where nothing is calibrated yet", () => {
    const bench = pointsTaken(readyBench({ record: null }), HUNDRED_KG_N);
    bench.ask("calibration-accept");
    expect(kept(bench).counts_per_N / 400).toBeCloseTo(1, 3);
    expect(bench.pull(3, 0).ask("begin", HOLD)).toMatchObject({ ok: true });
  });

  it("accept is answered only by whoever has kept the record", () => {
    const bench = pointsTaken(readyBench(), HUNDRED_KG_N);
    expect(bench.ask("calibration-accept")).toBeNull();
    const [saved, ...more] = bench.did("save-calibration");
    expect(more).toEqual([]);
    expect(saved).toMatchObject({ request_id: `r-${bench.asked}`, outcome: { ok: true } });
    expect(bench.answer()).toBeNull();
    // Until it comes back kept, the old one stays in force.
    expect(bench.last("sensor")).toMatchObject({ calibration_id: CALIBRATION_ID });
  });

  it("meanwhile begin, zero and keys are busy, and say with whom and since when", () => {
    const bench = readyBench();
    bench.ask("calibration-begin", {}, "socket", "tech-1");
    const busy = {
      ok: false,
      error: { code: "busy", message: expect.stringMatching(/tech-1 since 2026-11-24T10:00:0/) },
    };
    expect(bench.ask("begin", HOLD)).toMatchObject(busy);
    expect(bench.ask("zero")).toMatchObject(busy);
    expect(bench.ask("calibration-begin")).toMatchObject(busy);
    bench.press(1).press(2);
    expect(bench.did("dispatch")).toEqual([]);
    expect(bench.station.lamps.playing?.pattern).toBe("refused");
    expect(bench.last("sensor")).toMatchObject({ ready: false });
    expect(bench.ask("calibration-abandon")).toMatchObject({ ok: true });
    expect(bench.ask("begin", HOLD)).toMatchObject({ ok: true });
  });

  it("is refused while somebody is set up, and on a board that gives no readings", () => {
    const armed = readyBench().begin({ trainee: "heron-07", ...HOLD });
    expect(armed.ask("calibration-begin")).toMatchObject({
      ok: false,
      error: { code: "busy", message: expect.stringMatching(/heron-07/) },
    });
    const silent = readyBench();
    silent.give({ kind: "silence" });
    expect(silent.ask("calibration-begin")).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
  });

  it("a point that was not still is refused, and the other stays", () => {
    const bench = readyBench();
    bench.ask("calibration-begin");
    bench.ask("calibration-zero");
    bench.pull(24, 0);
    bench.ask("calibration-load", { mass_kg: 100 });
    bench.pull(24, (s) => HUNDRED_KG_N + 30 * Math.sin(3 * s));
    expect(bench.answer()).toMatchObject({ ok: false, error: { code: "not-still" } });
    bench.ask("calibration-load", { mass_kg: 100 });
    expect(bench.pull(24, HUNDRED_KG_N).answer()).toMatchObject({ ok: true });
  });

  it("warms up first: 15 minutes after the board got its power", () => {
    const bench = readyBench({ board: { clock_us: 60_000_000 } });
    expect(bench.last("sensor")).toMatchObject({ warming_up: true });
    expect(bench.ask("calibration-begin")).toMatchObject({
      ok: false,
      error: { code: "not-still", message: expect.stringMatching(/warming up.*14 min/) },
    });
  });

  it("points of another gain, or of before a restart, are gone", () => {
    const restarted = readyBench({ board: { clock_us: 4_000_000_000 } });
    restarted.ask("calibration-begin");
    restarted.ask("calibration-zero");
    restarted.pull(24, 0);
    restarted.board.restart({ clock_us: 1_000_000_000 });
    restarted.listen();
    expect(restarted.ask("calibration-load", { mass_kg: 100 })).toMatchObject({
      ok: false,
      error: { code: "bad-request", message: expect.stringMatching(/points taken so far are gone/) },
    });

    const regained = readyBench();
    regained.ask("calibration-begin");
    regained.ask("calibration-zero");
    const waiting = regained.asked;
    regained.pull(0.3, 0);
    regained.board.gain = 64;
    regained.board.hello();
    regained.listen();
    expect(regained.answer(waiting)).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    pointsTakenOn(regained);
    expect(kept(regained).gain).toBe(128);
  });

  function pointsTakenOn(bench: Bench): void {
    bench.ask("calibration-zero");
    bench.pull(24, 0);
    bench.ask("calibration-load", { mass_kg: 100 });
    bench.pull(24, HUNDRED_KG_N);
    checked(bench, HUNDRED_KG_N / 2).ask("calibration-accept");
  }

  it("points on a line that names nothing are gone when it was opened again", () => {
    const bench = readyBench({ station: { dialect: "bare", board: undefined }, record: record(UNNAMED) });
    bench.ask("calibration-begin");
    bench.ask("calibration-zero");
    expect(bench.pull(24, 0).answer()).toMatchObject({ ok: true });
    bench.give({ kind: "closed" });
    bench.open().settle();
    expect(bench.ask("calibration-load", { mass_kg: 100 })).toMatchObject({
      ok: false,
      error: { code: "bad-request", message: expect.stringMatching(/points taken so far are gone/) },
    });
  });

  it("a reading of a capture compares nothing that is published", () => {
    const bench = readyBench();
    bench.ask("calibration-begin");
    bench.ask("calibration-zero");
    bench.pull(21, 0);
    const before = bench.station;
    const desks = new Set(Array.from({ length: 40 }, () => bench.pull(1 / 80, 0).station.desk));
    expect(bench.station.procedure).not.toBe(before.procedure);
    // Half a second: at most the look that is due once a second.
    expect(new Set([before.desk, ...desks]).size).toBeLessThanOrEqual(2);
  });

  it("a capture is answered when the readings stop", () => {
    for (const stop of ["silence", "closed"] as const) {
      const bench = readyBench();
      bench.ask("calibration-begin");
      bench.ask("calibration-zero");
      bench.pull(5, 0);
      bench.give({ kind: stop });
      expect(bench.answer()).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    }
  });

  it("what is in force is checked as found, read by its own zero in use, and kept as a check", () => {
    const bench = readyBench();
    expect(bench.ask("calibration-begin", {}, "socket", "tech-1")).toMatchObject({
      result: { in_force: CALIBRATION_ID },
    });
    expect(bench.ask("calibration-accept")).toMatchObject({ ok: false, error: { code: "bad-request" } });
    // The bench's own scale reads right; the load is a hundredth less than it is said to be.
    expect(bench.ask("calibration-check", { force_N: 500, loading: "increasing" })).toBeNull();
    bench.pull(24, 495);
    const { result } = bench.answer() as { result: Record<string, unknown> };
    expect(result).toMatchObject({ when: "as-found", force_N: 500, series: 1, warnings: [] });
    expect(result["relative_error"]).toBeCloseTo(-0.01, 4);
    expect(bench.ask("calibration-check", { force_N: 0, loading: "decreasing" })).toBeNull();
    bench.pull(24, 0);
    expect(bench.answer()).toMatchObject({ result: { force_N: 0, relative_error: null } });
    expect(bench.ask("calibration-accept", { due: "2027-11-24T10:00:00Z", note: "spring visit" })).toBeNull();
    const [saved] = bench.did("save-check");
    expect(saved?.outcome.ok && calibrationAcceptResultSchema.parse(saved.outcome.result)).toEqual(saved?.check);
    expect(checkRecordSchema.parse(saved?.check)).toMatchObject({
      calibration_id: CALIBRATION_ID,
      performed_by: "tech-1",
      due: "2027-11-24T10:00:00.000Z",
      note: "spring visit",
      checks: [{ force_N: 500 }, { force_N: 0 }],
    });
    expect(bench.did("save-calibration")).toEqual([]);
    bench.give({ kind: "check-kept", due: "2027-11-24T10:00:00.000Z" });
    expect(bench.last("sensor")).toMatchObject({ calibration_id: CALIBRATION_ID });
    expect(bench.ask("begin", HOLD)).toMatchObject({ ok: true });
  });

  it("as found goes on after the plug was out, once the same board has said who it is", () => {
    const bench = readyBench();
    bench.ask("calibration-begin");
    bench.ask("calibration-check", { force_N: 500, loading: "increasing" });
    expect(bench.pull(24, 500).answer()).toMatchObject({ ok: true });
    bench.give({ kind: "closed" });
    bench.open().settle();
    expect(bench.ask("calibration-check", { force_N: 250, loading: "increasing" })).toBeNull();
    expect(bench.pull(24, 250).answer()).toMatchObject({ ok: true, result: { when: "as-found" } });
    bench.ask("calibration-accept");
    expect(bench.did("save-check")[0]?.check.checks.map(({ force_N }) => force_N)).toEqual([500, 250]);
  });

  it("without a record, or with one of another board, there is nothing to check as found", () => {
    for (const other of [null, record({ board: "press-right" })]) {
      const bench = readyBench({ record: other });
      expect(bench.ask("calibration-begin")).toMatchObject({ ok: true, result: { in_force: null } });
      expect(bench.ask("calibration-check", { force_N: 500, loading: "increasing" })).toMatchObject({
        ok: false,
        error: { code: "no-calibration" },
      });
    }
  });

  it("live says counts and whether they are still, while a calibration is open and not otherwise", () => {
    const bench = readyBench({ record: null });
    bench.pull(3, 0);
    expect(bench.last("live")).not.toHaveProperty("counts");
    bench.ask("calibration-begin");
    bench.pull(4, 0);
    expect(bench.last("live")).toMatchObject({ force_N: null, still: true, counts: expect.closeTo(12_000, -2) });
    bench.pull(2, (s) => 400 * s);
    expect(bench.last("live")).toMatchObject({ still: false });
    bench.ask("calibration-abandon");
    bench.pull(1, 0);
    expect(bench.last("live")).not.toHaveProperty("still");
  });

  it("verbs that fit no open calibration are refused, each once", () => {
    const bench = readyBench();
    for (const verb of ["calibration-zero", "calibration-abandon", "calibration-accept"] as const) {
      expect(bench.ask(verb)).toMatchObject({ ok: false, error: { code: "bad-request" } });
    }
    expect(bench.ask("calibration-load", { mass_kg: 10 })).toMatchObject({ ok: false, error: { code: "bad-request" } });
    bench.ask("calibration-begin");
    expect(bench.ask("calibration-accept")).toMatchObject({ ok: false, error: { code: "bad-request" } });
  });
});
