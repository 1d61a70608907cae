import { describe, expect, it } from "vitest";
import { type Bench, COUNTS_PER_N, holdCurve, readyBench } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

/** A set of a few seconds, just over. */
const afterSet = (): Bench => {
  const bench = readyBench()
    .begin(HOLD)
    .pull(0.5, 0)
    .pull(6, holdCurve(1000, 3, 400));
  expect(bench.phase).toBe("finished");
  return bench;
};

describe("where the zero stands after a set", () => {
  it("comes as one revision of that set, rounded as a force is, once the sensor is at rest", () => {
    const bench = afterSet();
    const { set_id } = bench.set;
    expect(bench.set.zero_shift_N).toBeNull();
    bench.pull(17, 2.5);
    expect(bench.did("revise")).toEqual([]);
    bench.pull(60, 2.5);
    const [revise, ...more] = bench.did("revise");
    expect(more).toEqual([]);
    expect(revise).toMatchObject({ set_id });
    const shift_N = revise?.changes.zero_shift_N as number;
    expect(shift_N).toBeCloseTo(2.5, 1);
    expect(shift_N).toBe(Math.round(shift_N * 100) / 100);
  });

  it("is not said of a set after which the next was armed at once", () => {
    const bench = afterSet().pull(8, 0).begin(HOLD).pull(1, 0);
    bench.ask("end");
    bench.pull(60, 0);
    expect(bench.did("revise")).toEqual([]);
  });

  it("is said of the last of two sets by its own zero", () => {
    const bench = afterSet().pull(30, 1.5).begin(HOLD).pull(0.5, 1.5);
    bench.pull(6, (s) => 1.5 + holdCurve(1000, 3, 400)(s)).pull(30, 1.5);
    const [first, second] = bench.did("revise");
    const [one, other] = bench.kept;
    expect([first?.set_id, second?.set_id]).toEqual([one?.message.set_id, other?.message.set_id]);
    expect(second?.changes.zero_shift_N).toBeCloseTo(1.5, 1);
  });

  it("is not reckoned over a line that was opened again, nor over a calibration that was begun", () => {
    const reopened = afterSet().pull(5, 0);
    reopened.give({ kind: "closed" });
    reopened.open().pull(60, 0);
    expect(reopened.did("revise")).toEqual([]);
    const calibrating = afterSet().pull(5, 0);
    calibrating.ask("calibration-begin");
    calibrating.pull(2, 0).ask("calibration-abandon");
    calibrating.pull(60, 0);
    expect(calibrating.did("revise")).toEqual([]);
  });

  it("is not said of a set that was cut short by the recorder's end", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(4, holdCurve(1000, 10, 0));
    bench.give({ kind: "stopping" });
    expect(bench.set.stop_reason).toBe("interrupted");
    expect(bench.did("revise")).toEqual([]);
  });
});

describe("the history of a zero", () => {
  it("says when, why, and who asked", () => {
    const bench = readyBench().pull(3, 8);
    bench.ask("zero", {}, "socket", "tech-1");
    const asked_ms = bench.now.wall_ms;
    bench.pull(1.3, 8);
    const [asked] = bench.did("save-zero");
    expect(asked?.zero).toMatchObject({ cause: "asked", performed_by: "tech-1" });
    expect(Date.parse(asked?.zero.at ?? "") - asked_ms).toBeLessThan(1300);
    expect(Date.parse(asked?.zero.at ?? "")).toBeGreaterThan(asked_ms);
    bench.pull(75, 9.5);
    expect(bench.did("save-zero").at(-1)?.zero).toMatchObject({ cause: "tracked", performed_by: null });
  });

  it("a key names nobody; a hand that comes off brings the former zero back, and says so", () => {
    const bench = readyBench().pull(3, 20).press(2).pull(2, 20).pull(2, 0);
    expect(bench.did("save-zero").map(({ zero }) => [zero.cause, zero.performed_by])).toEqual([
      ["asked", null],
      ["restored", null],
    ]);
    expect(bench.did("save-zero").at(-1)?.zero.shift_counts).toBe(0);
  });
});

describe("a zero that has moved", () => {
  const confirmed = (): Bench => {
    const bench = readyBench().pull(3, 60);
    bench.ask("zero");
    bench.pull(1.3, 60).ask("zero", { confirm: true }, "socket", "tech-1");
    return bench.pull(1.3, 60);
  };

  it("by half a percent between two sets is an alarm within 70 s, and not a force that is tracked away", () => {
    const bench = readyBench({ rate_Hz: 20 }).pull(15, 0).begin(HOLD).pull(0.5, 0);
    bench.pull(6, holdCurve(1000, 3, 400)).pull(69, 25);
    expect(bench.alarm("zero-moved")).toMatch(/^The zero stands 25 N from where it last stood: take everything off/);
    expect(bench.force_N).toBeCloseTo(25, 1);
    expect(bench.last("sensor")["alarms"]).toMatchObject([{ code: "zero-moved", latched: false }]);
    expect(bench.pull(13, 0).alarm("zero-moved")).toBeNull();
  });

  it("so far that it had to be confirmed is an alarm until somebody says it was inspected", () => {
    const bench = confirmed();
    expect(bench.answer()).toMatchObject({ ok: true });
    expect(bench.alarm("zero-moved")).toMatch(/^Zeroed 60 N away from the former zero: inspect/);
    expect(bench.pull(30, 60).alarm("zero-moved")).not.toBeNull();
    const [saved] = bench.did("save-zero-moved");
    const alarm = bench.station.desk.alarms.find(({ code }) => code === "zero-moved");
    expect(alarm?.latched).toBe(true);
    const { calibration_id } = bench.station.sensor.scale?.zero_facts ?? {};
    expect(saved?.moved).toEqual({ calibration_id, since: alarm?.since, detail: alarm?.detail });
    expect(bench.ask("inspected")).toMatchObject({ ok: true, result: { cleared: true } });
    expect(bench.alarm("zero-moved")).toBeNull();
    expect(bench.did("save-zero-moved").map(({ moved }) => moved === null)).toEqual([false, true]);
    expect(bench.pull(70, 60).alarm("zero-moved")).toBeNull();
  });

  it("is an alarm after a restart as well, since the day it was confirmed", () => {
    const before = confirmed();
    const [kept] = before.did("save-zero");
    const [latch] = before.did("save-zero-moved");
    const record = before.station.sensor.scale?.record;
    const moved = latch?.moved ?? undefined;
    if (record === undefined || kept === undefined || moved === undefined) throw new Error("nothing was kept");
    const bench = readyBench();
    bench.give({ kind: "calibration", record, zero: { ...kept.zero, moved } });
    const standing = { code: "zero-moved", since: moved.since, detail: moved.detail, latched: true };
    expect(bench.station.desk.alarms).toEqual([standing]);
    // An ordinary zero does not say that anybody has looked.
    bench.pull(2, 61).ask("zero");
    expect(bench.pull(1.3, 61).station.desk.alarms).toEqual([standing]);
    bench.ask("inspected");
    expect(bench.station.desk.alarms).toEqual([]);
    expect(bench.did("save-zero-moved").at(-1)?.moved).toBeNull();
  });

  it("that a hand had moved is not to be inspected once the former one is back", () => {
    const bench = confirmed().pull(3, 0);
    expect(bench.station.desk.alarms).toMatchObject([{ code: "zero-suspect" }]);
    expect(bench.did("save-zero-moved").map(({ moved }) => moved === null)).toEqual([false, true]);
  });

  it("is of its own calibration: another one ends the alarm", () => {
    const bench = confirmed();
    const inForce = bench.station.sensor.scale?.record;
    if (inForce === undefined) throw new Error("no record");
    const zero_counts = inForce.zero_counts + 60 * COUNTS_PER_N;
    const another = { ...inForce, zero_counts, calibration_id: "11111111-1f3e-4b0a-9a55-3c7f8e2d1b90" };
    bench.give({ kind: "calibration", record: another, zero: null });
    expect(bench.alarm("zero-moved")).toBeNull();
  });
});
