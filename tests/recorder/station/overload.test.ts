import { describe, expect, it } from "vitest";
import { type Bench, holdCurve, readyBench } from "./bench.ts";

/** Of the bench's station, N. */
const LIMIT_N = 4000;
const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

/** So many readings at a share of the limit, in a hold well below it. */
function struck(share: number, readings: number): Bench {
  const bench = readyBench({ noise_counts: 1 })
    .begin(HOLD)
    .pull(0.5, 0)
    .pull(4, holdCurve(1000, 10, 0));
  for (let index = 0; index < readings; index++) bench.read(bench.countsOf(share * LIMIT_N));
  return bench;
}

const warned = (bench: Bench): boolean => bench.station.lamps.playing?.pattern === "warning";

describe("force above what the load path bears", () => {
  // Just below, at and just above: the noise is at most one count, 0.0025 N.
  it.each([
    [0.99, { warns: false, ends: false, latches: false }],
    [1.01, { warns: true, ends: false, latches: false }],
    [1.09, { warns: true, ends: false, latches: false }],
    [1.11, { warns: false, ends: true, latches: false }],
    [1.24, { warns: false, ends: true, latches: false }],
    [1.26, { warns: false, ends: true, latches: true }],
  ])("two readings at %f of the limit", (share, { warns, ends, latches }) => {
    const bench = struck(share, 2);
    expect(warned(bench)).toBe(warns);
    expect(bench.phase).toBe(ends ? "finished" : "working");
    expect(bench.alarm("overload") !== null).toBe(ends);
    expect(bench.alarm("inspect") !== null).toBe(latches);
    expect(bench.did("save-inspect")).toHaveLength(latches ? 1 : 0);
    if (ends) expect(bench.set).toMatchObject({ stop_reason: "overload", cut_short: true });
  });

  it.each([1.01, 1.11, 1.26, 3])("one reading at %f of the limit may be a spike: nothing", (share) => {
    const bench = struck(share, 1).pull(0.1, 1000);
    expect(warned(bench)).toBe(false);
    expect(bench.phase).toBe("working");
    expect(bench.station.desk.alarms).toEqual([]);
  });

  it("what falls between the two readings counts at the lower one", () => {
    const bench = struck(1.3, 1).read(readyBench().countsOf(1.05 * LIMIT_N));
    expect(bench.phase).toBe("working");
    expect(bench.alarm("overload")).toBeNull();
  });

  it("a load path breaks in the other direction as well", () => {
    const bench = readyBench().pull(0.1, -1.3 * LIMIT_N);
    expect(bench.alarm("inspect")).toMatch(/5200 N.*4000 N/);
  });

  it("the best of the set is from before the overload", () => {
    expect(struck(1.26, 2).set.best_force_N).toBeCloseTo(1000, 0);
  });

  it("an overload is over below 95 % of the limit; the latch is not", () => {
    const bench = readyBench()
      .pull(0.2, 1.3 * LIMIT_N)
      .pull(0.2, 0.96 * LIMIT_N);
    expect(bench.alarm("overload")).not.toBeNull();
    bench.pull(0.2, 0.94 * LIMIT_N);
    expect(bench.alarm("overload")).toBeNull();
    expect(bench.alarm("inspect")).not.toBeNull();
  });
});

describe("the inspect latch", () => {
  const latched = (): Bench =>
    readyBench()
      .pull(0.2, 1.3 * LIMIT_N)
      .settle();

  it("refuses a begin from every door, with the reason and who may lift it", () => {
    const bench = latched();
    expect(bench.ask("begin")).toMatchObject({
      ok: false,
      error: {
        code: "not-permitted",
        message: expect.stringMatching(/5200 N/),
        hint: expect.stringMatching(/inspected/),
      },
    });
    bench.press(1);
    expect(bench.phase).toBe("idle");
    expect(bench.station.lamps.playing?.pattern).toBe("refused");
    expect(bench.last("sensor")).toMatchObject({
      ready: false,
      alarms: [{ code: "inspect", latched: true }],
    });
  });

  it("outlives a restart of the recorder, by way of the store", () => {
    const saved = latched().did("save-inspect").at(-1)?.latched;
    if (saved == null) throw new Error("nothing was saved");
    const again = readyBench();
    again.give({ kind: "inspect", ...saved });
    expect(again.ask("begin")).toMatchObject({ ok: false, error: { code: "not-permitted", message: saved.detail } });
    expect(again.station.desk.alarms).toEqual([{ code: "inspect", ...saved, latched: true }]);
  });

  it("is lifted by `inspected`, here and in the store, and by nothing else", () => {
    const bench = latched();
    bench.board.restart();
    bench.listen().settle();
    expect(bench.alarm("inspect")).not.toBeNull();
    expect(bench.ask("inspected", {}, "socket", "tech-1")).toEqual({ ok: true, result: { cleared: true } });
    expect(bench.did("save-inspect").at(-1)).toMatchObject({ latched: null });
    expect(bench.ask("begin")).toMatchObject({ ok: true });
    expect(bench.ask("inspected")).toEqual({ ok: true, result: { cleared: false } });
  });

  it("has stood since it was first latched, also when the path is overloaded again", () => {
    const bench = latched()
      .pull(1, 0)
      .pull(0.2, 1.4 * LIMIT_N);
    const [first, second] = bench.did("save-inspect");
    expect(second?.latched?.since).toBe(first?.latched?.since);
    expect(second?.latched?.detail).toMatch(/5600 N/);
  });
});
