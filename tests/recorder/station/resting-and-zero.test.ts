import { describe, expect, it } from "vitest";
import { type Bench, CALIBRATION_ID, COUNTS_PER_N, holdCurve, readyBench, ZERO_COUNTS } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

describe("the resting force", () => {
  const taken = (subtract_resting: boolean, resting_N: number): Bench => {
    const bench = readyBench({ station: { subtract_resting } }).begin(HOLD).pull(1, resting_N);
    expect(bench.ask("resting")).toBeNull();
    return bench.pull(1.1, resting_N);
  };

  it("is one still second, answered in newtons", () => {
    const bench = taken(false, 30);
    const outcome = bench.answer();
    if (outcome?.ok !== true) throw new Error("it was refused");
    expect((outcome.result as { resting_force_N: number }).resting_force_N).toBeCloseTo(30, 1);
  });

  it("moves the onset and nothing else, where it is not subtracted", () => {
    const bench = taken(false, 30).pull(8, (s) => 30 + holdCurve(1000, 3, 400)(s));
    expect(bench.set).toMatchObject({ resting_subtracted: false, stop_reason: "hold-below-floor" });
    expect(bench.set.resting_force_N).toBeCloseTo(30, 1);
    expect(bench.set.best_force_N).toBeCloseTo(1030, 0);
    expect(bench.set.options.onset_force_N).toBe(50);
  });

  it("is taken off every force, where the station says so", () => {
    const bench = taken(true, 30).pull(8, (s) => 30 + holdCurve(1000, 3, 400)(s));
    expect(bench.set).toMatchObject({ resting_subtracted: true, stop_reason: "hold-below-floor" });
    expect(bench.set.best_force_N).toBeCloseTo(1000, 0);
    expect(bench.set.floor_force_N).toBeCloseTo(600, 0);
  });

  it("shows in `state`: not needed, not taken, taken", () => {
    const shown = (bench: Bench): unknown => bench.last("state")["resting_force"];
    expect(shown(readyBench().begin(HOLD))).toBe("not-needed");
    expect(shown(readyBench({ station: { subtract_resting: true } }).begin(HOLD))).toBe("not-taken");
    expect(shown(taken(true, 30))).toBe("taken");
    expect(shown(taken(false, 30))).toBe("taken");
  });

  it("never moves the zero", () => {
    const bench = taken(true, 30);
    expect(bench.did("save-zero")).toEqual([]);
    bench.ask("end");
    expect(bench.pull(0.1, 30).force_N).toBeCloseTo(30, 1);
  });

  it("is refused in a sentence when it was not still, or above 10 % of capacity", () => {
    const moving = readyBench().begin(HOLD).pull(1, 10);
    moving.ask("resting");
    moving.pull(1.1, (s) => 10 + 40 * Math.sin(8 * s));
    expect(moving.answer()).toMatchObject({ ok: false, error: { code: "not-still", message: expect.any(String) } });
    const heavy = readyBench().begin(HOLD).pull(0.5, 0).pull(1, 0);
    heavy.ask("resting");
    heavy.pull(1.1, 510);
    expect(heavy.answer()).toMatchObject({
      ok: false,
      error: { code: expect.stringMatching(/not-still|out-of-range/) },
    });
    heavy.ask("resting");
    heavy.pull(1.1, 510);
    expect(heavy.answer()).toMatchObject({
      ok: false,
      error: { code: "out-of-range", message: expect.stringMatching(/500 N/) },
    });
  });

  it("is refused while nothing is armed, and while it is being taken", () => {
    expect(readyBench().ask("resting")).toMatchObject({ ok: false, error: { code: "bad-request" } });
    const working = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(2, holdCurve(1000, 10, 0));
    expect(working.ask("resting")).toMatchObject({ ok: false, error: { code: "bad-request" } });
    const twice = readyBench().begin(HOLD).pull(0.5, 0);
    twice.ask("resting");
    expect(twice.ask("resting")).toMatchObject({ ok: false, error: { code: "busy" } });
    expect(twice.pull(1.1, 0).answer(twice.asked - 1)).toMatchObject({ ok: true });
  });

  it("is answered when the set is disarmed meanwhile, whatever disarms it", () => {
    const waiting = (): Bench => {
      const bench = readyBench().begin(HOLD).pull(0.5, 0);
      bench.ask("resting");
      return bench.pull(0.2, 0);
    };
    const expired = { ok: false, error: { code: "expired" } };
    const ended = waiting();
    const asked = ended.asked;
    ended.ask("end");
    expect(ended.answer(asked)).toMatchObject(expired);
    const silent = waiting();
    silent.give({ kind: "silence" });
    expect(silent.answer()).toMatchObject(expired);
    const stopping = waiting();
    stopping.give({ kind: "stopping" });
    expect(stopping.answer()).toMatchObject(expired);
  });
});

describe("zero", () => {
  it("asked for: a still second, answered, saved for the record in force", () => {
    const bench = readyBench().pull(3, 8);
    expect(bench.ask("zero")).toBeNull();
    bench.pull(1.3, 8);
    expect(bench.answer()).toMatchObject({ ok: true });
    const { result } = bench.answer() as { result: { zero_shift_N: number; zero_counts: number } };
    expect(result.zero_shift_N).toBeCloseTo(8, 1);
    expect(result.zero_counts).toBeCloseTo(ZERO_COUNTS + 8 * COUNTS_PER_N, -1);
    expect(bench.did("save-zero")).toEqual([
      { do: "save-zero", zero: expect.objectContaining({ calibration_id: CALIBRATION_ID }) },
    ]);
    expect(bench.pull(0.1, 8).force_N).toBeCloseTo(0, 1);
  });

  it("of a former life is taken up again, but only for its own record", () => {
    const zero = { calibration_id: CALIBRATION_ID, shift_counts: 20 * COUNTS_PER_N, asked_shift_counts: 0 };
    for (const [id, force_N] of [
      [CALIBRATION_ID, 80],
      ["00000000-1f3e-4b0a-9a55-3c7f8e2d1b90", 100],
    ] as const) {
      const bench = readyBench();
      const inForce = bench.station.sensor.scale?.record;
      if (inForce === undefined) throw new Error("no record");
      bench.give({ kind: "calibration", record: inForce, zero: { ...zero, calibration_id: id } });
      expect(bench.pull(0.1, 100).force_N).toBeCloseTo(force_N, 1);
    }
  });

  // 0.5 % of a capacity of 5000 N is 25 N.
  it.each([
    [24, true],
    [26, false],
  ])("a move by %d N is free: %s", (offset_N, free) => {
    const bench = readyBench().pull(3, offset_N);
    bench.ask("zero");
    bench.pull(1.3, offset_N);
    if (free) expect(bench.answer()).toMatchObject({ ok: true });
    else
      expect(bench.answer()).toMatchObject({
        ok: false,
        error: { code: "not-permitted", hint: expect.stringMatching(/confirm/) },
      });
  });

  it("a large move is confirmed within 5 s, and not later", () => {
    for (const [after_s, done] of [
      [4.7, true],
      [5.4, false],
    ] as const) {
      const bench = readyBench().pull(3, 60);
      bench.ask("zero");
      bench.pull(1, 60);
      while (bench.answer() === null) bench.pull(1 / 80, 60);
      bench.pull(after_s, 60);
      bench.ask("zero", { confirm: true });
      bench.pull(1.3, 60);
      expect(bench.answer()?.ok).toBe(done);
    }
  });

  it("stays within 4 % of capacity of the calibrated one", () => {
    const bench = readyBench().pull(3, 210);
    bench.ask("zero", { confirm: true });
    bench.pull(1.3, 210);
    expect(bench.answer()).toMatchObject({ ok: false, error: { code: "out-of-range" } });
  });

  it("is refused while armed, in a set, and for 10 s after it", () => {
    const busy = { ok: false, error: { code: "busy" } };
    const bench = readyBench()
      .begin({ trainee: "heron-07", ...HOLD })
      .pull(0.5, 0);
    expect(bench.ask("zero")).toMatchObject({
      ok: false,
      error: { code: "busy", message: expect.stringMatching(/heron-07/) },
    });
    bench.pull(8, holdCurve(1000, 3, 400));
    expect(bench.phase).toBe("finished");
    expect(bench.pull(2, 0).ask("zero")).toMatchObject(busy);
    bench.pull(12, 0).ask("zero");
    expect(bench.pull(1.3, 0).answer()).toMatchObject({ ok: true });
  });

  it("is given up when a set begins before it is taken", () => {
    const bench = readyBench();
    bench.ask("zero");
    const asked = bench.asked;
    bench.begin(HOLD).pull(0.1, 0);
    expect(bench.answer(asked)).toMatchObject({ ok: false, error: { code: "busy" } });
    expect(bench.phase).toBe("armed");
  });

  it("is refused without a record", () => {
    const bench = readyBench({ record: null });
    expect(bench.ask("zero")).toMatchObject({ ok: false, error: { code: "no-calibration" } });
  });

  it("with a hand on the lever: the former zero comes back, and an alarm says so", () => {
    const bench = readyBench().pull(3, 20);
    bench.ask("zero");
    bench.pull(2, 20).pull(2, 0);
    expect(bench.alarm("zero-suspect")).toMatch(/hand/);
    expect(bench.force_N).toBeCloseTo(0, 1);
    expect(bench.did("save-zero").at(-1)?.zero.shift_counts).toBe(0);
  });

  it("an alarm of the zero goes with the record it was raised under", () => {
    const bench = readyBench().pull(3, 20);
    bench.ask("zero");
    bench.pull(2, 20).pull(2, 0);
    const inForce = bench.station.sensor.scale?.record;
    if (inForce === undefined) throw new Error("no record");
    const another = { ...inForce, calibration_id: "11111111-1f3e-4b0a-9a55-3c7f8e2d1b90" };
    bench.give({ kind: "calibration", record: another, zero: null });
    expect(bench.alarm("zero-suspect")).toBeNull();
  });

  it("does not move while somebody works, however long and however close to nothing", () => {
    const bench = readyBench({ rate_Hz: 20 }).begin(HOLD);
    bench.pull(170, 1.5);
    expect(bench.force_N).toBeCloseTo(1.5, 1);
    bench.ask("end");
    // Idle, it follows: half a d of 1 N in ten seconds, after a minute of quiet.
    bench.pull(120, 1.5);
    expect(bench.force_N).toBeLessThan(0.6);
  });
});
