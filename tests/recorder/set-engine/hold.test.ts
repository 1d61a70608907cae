/** A hold: its best, its floor, the grace, letting go, and what it came to. */
import { describe, expect, it } from "vitest";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import {
  corners,
  type Run,
  readingsOf,
  resultOf,
  run,
  runTrace,
  setupOf,
  type Trace,
  together,
  toldOf,
} from "./run.ts";
import { confirmedBest, meanBefore, meanFallsBelow } from "./smoothed.ts";

const end = (at_s: number): EngineInput => ({ kind: "end", at_us: at_s * 1e6, because: null });

/** Pulled from 0 to the first corner's force within 10 ms at 1 s; then along the corners. */
const pulled = (...points: readonly (readonly [number, number])[]) =>
  corners([0.99, 0], [1, points[0]?.[1] ?? 0], ...points);
const held = (force: Trace["force"], lasts_s: number, changes: Parameters<typeof setupOf>[0] = {}): Run =>
  runTrace({ reading_rate_Hz: 100, ...changes }, { force, lasts_s, rate_Hz: 100 });
/** Asked for the end right after a trace, so that what it came to can be seen. */
const ended = (force: Trace["force"], at_s: number, changes: Parameters<typeof setupOf>[0] = {}) =>
  resultOf(
    run(
      setupOf({ reading_rate_Hz: 100, ...changes }),
      together(readingsOf({ force, lasts_s: at_s + 0.005, rate_Hz: 100 }), end(at_s)),
    ),
  );

describe("best of a hold", () => {
  it("is the second that the next one confirms", () => {
    expect(ended(pulled([1, 800]), 6).best_N).toBeCloseTo(800, 6);
  });

  it.each([
    ["confirmed at 95 %", 950, 1000],
    ["at more", 960, 1000],
    ["held down to the next second / 0.95 at less", 900, 900 / 0.95],
  ])("%s", (_, next_N, expected_N) => {
    const force = pulled([1, 1000], [2, 1000], [2.0001, next_N], [9, next_N]);
    const { best_N } = ended(force, 5);
    // The best of all pairs of seconds, found apart from the engine, lies within 1 %.
    expect(best_N).toBeGreaterThan(0.99 * expected_N);
    expect(Math.abs((best_N ?? 0) / confirmedBest(force, 0.99, 5) - 1)).toBeLessThan(2e-3);
  });

  it("is not set by a jerk", () => {
    const jerk = pulled([1, 0], [1.05, 2000], [1.25, 2000], [1.35, 700], [20, 700]);
    const { best_N } = ended(jerk, 8);
    expect(best_N).toBeLessThan(700 / 0.95 + 0.5);
    expect(Math.abs((best_N ?? 0) / confirmedBest(jerk, 1, 8) - 1)).toBeLessThan(2e-3);
  });

  it("needs two whole seconds after the onset", () => {
    const at = (at_s: number) => viewOf(held(pulled([1, 800]), at_s).state).best_N;
    expect(at(2.98)).toBeNull();
    expect(at(3.02)).toBeCloseTo(800, 0);
  });

  it("takes the floor up with it and never down", () => {
    const force = pulled([1, 600], [4, 600], [6, 1000], [9, 1000], [9.5, 700], [30, 700]);
    let floor_N = 0;
    let seen = 0;
    for (let at_s = 1.2; at_s < 20; at_s += 0.2) {
      const view = viewOf(held(force, at_s).state);
      expect(view.floor_N ?? 0).toBeGreaterThanOrEqual(floor_N);
      if (view.floor_N !== null && view.best_N !== null) {
        expect(view.floor_N).toBeCloseTo(0.6 * view.best_N, 9);
        seen += 1;
      }
      floor_N = view.floor_N ?? floor_N;
    }
    expect(seen).toBeGreaterThan(50);
    expect(floor_N).toBeCloseTo(600, 0);
  });
});

describe("hold-below-floor", () => {
  it.each([0.2, 1, 3, 5])("comes when smoothed force was under the floor for a grace of %f s", (grace_s) => {
    const force = pulled([1, 1000], [5, 1000], [15, 500], [60, 500]);
    const result = resultOf(held(force, 40, { options: { grace_s } }));
    const crossed_s = meanFallsBelow(force, 600, 5);
    expect(result.stop_reason).toBe("hold-below-floor");
    expect(result.reached_threshold).toBe(true);
    expect(result.decided_us / 1e6 - (crossed_s + grace_s)).toBeGreaterThanOrEqual(-0.001);
    expect(result.decided_us / 1e6 - (crossed_s + grace_s)).toBeLessThanOrEqual(0.02);
    // What is left is the mean over the grace.
    expect(result.final_N).toBeCloseTo(meanBefore(force, result.decided_us / 1e6, grace_s), 0);
  });

  it("begins anew when smoothed force comes back before the grace is over", () => {
    // 0.4 s at 0 N cost the trailing second 400 N; it is under 600 N for less than a second.
    const dip = pulled([1, 1000], [6, 1000], [6.01, 350], [7.5, 350], [7.51, 1000], [30, 1000]);
    const under_s = meanFallsBelow(dip, 600, 6);
    let back_s = under_s;
    while (meanBefore(dip, back_s) < 600) back_s += 0.001;
    expect(back_s - under_s).toBeGreaterThan(1);
    expect(toldOf(held(dip, 20))).toContain("hold-below-floor");
    const shorter = pulled([1, 1000], [6, 1000], [6.01, 350], [7.1, 350], [7.11, 1000], [30, 1000]);
    expect(toldOf(held(shorter, 20)).filter((told) => told !== "nearing" && told !== "sudden-loss")).toEqual([
      "working",
    ]);
  });

  it("is not judged in the first 2 s, though a tested best gives the floor before them", () => {
    const result = resultOf(held(pulled([1, 500]), 8, { options: { tested_best_force_N: 1000 } }));
    expect(result.stop_reason).toBe("hold-below-floor");
    expect(result.decided_us).toBeGreaterThanOrEqual(result.onset_us + 3e6);
    expect(result.decided_us).toBeLessThanOrEqual(result.onset_us + 3.02e6);
  });

  it.each([150, 300, 900])("a slow pull of %i N/s towards a tested best is no false start", (rate_N_s) => {
    const force = corners([1, 0], [1 + 900 / rate_N_s, 900], [60, 900]);
    const ran = held(force, 1 + 2.9, { options: { tested_best_force_N: 1000 } });
    expect(toldOf(ran)).toContain("working");
    expect(toldOf(ran)).not.toContain("false-start");
  });

  it("measures against today's best where it is told to", () => {
    const force = pulled([1, 700], [60, 700]);
    const options = { best_from: "today" } as const;
    expect(held(force, 30, { options, today_best_force_N: 1000 }).result).toBeNull();
    expect(resultOf(held(force, 30, { options, today_best_force_N: 1200 })).floor_N).toBeCloseTo(720, 9);
    expect(held(force, 30, { today_best_force_N: 1200 }).result).toBeNull();
  });
});

describe("let go", () => {
  const heldUntil = (until_s: number) => pulled([1, 1000], [until_s, 1000], [until_s + 0.01, 0], [60, 0]);

  it("is told after a grace below the attempt level, sooner than the smoothed force would say", () => {
    const result = resultOf(held(heldUntil(9), 20));
    expect(result.stop_reason).toBe("let-go");
    expect(result.reached_threshold).toBe(false);
    expect(Math.abs(result.decided_us / 1e6 - 10)).toBeLessThan(0.03);
    expect(Math.abs(result.duration_s - 8)).toBeLessThan(0.02);
    expect(result.final_N).toBeCloseTo(1000, 0);
    expect(result.impulse_N_s).toBeCloseTo(1000 * result.duration_s, -1);
  });

  it.each([
    ["just under half the floor", 299, "let-go"],
    ["just above it", 301, "hold-below-floor"],
  ])("is what force %s means", (_, force_N, reason) => {
    const force = pulled([1, 1000], [9, 1000], [9.01, force_N], [60, force_N]);
    expect(resultOf(held(force, 20)).stop_reason).toBe(reason);
  });

  it.each([
    [1.9, "false-start"],
    [1.98, "false-start"],
    [2.03, "let-go"],
    [2.5, "let-go"],
  ])("after %f s: %s", (lasted_s, told) => {
    expect(toldOf(held(heldUntil(0.99 + lasted_s), 8))).toContain(told);
  });

  it.each([
    [2001, "false-start"],
    [1999, "let-go"],
  ])("at 1000 N where the last comparable best was %i N: %s", (comparable_best_force_N, told) => {
    expect(toldOf(held(heldUntil(9), 20, { comparable_best_force_N }))).toContain(told);
  });

  it("a false start leaves the set armed, to be begun by crossing the onset again", () => {
    const force = corners([1, 0], [1.1, 900], [2, 900], [2.1, 40], [6, 40], [6.1, 0], [7, 0], [7.1, 900], [20, 900]);
    const ran = held(force, 12, { options: { tested_best_force_N: 1000 } });
    expect(toldOf(ran).filter((told) => told !== "sudden-loss" && told !== "nearing")).toEqual([
      "working",
      "false-start",
      "armed",
      "working",
    ]);
    expect(ran.told.filter(({ effect }) => effect.do === "phase").at(-1)?.at_s).toBeGreaterThan(7);
  });
});

describe("other ends of a hold", () => {
  it("the time limit", () => {
    const result = resultOf(held(pulled([1, 500]), 260));
    expect(result.stop_reason).toBe("time-limit");
    expect(result.duration_s).toBeGreaterThanOrEqual(240);
    expect(result.duration_s).toBeLessThan(240.011);
    expect(result.reached_threshold).toBe(false);
  });

  it("on request the duration runs to the deciding moment and final is the last full second", () => {
    const force = pulled([1, 1000], [5, 1000], [9, 800], [60, 800]);
    const inputs = together(readingsOf({ force, lasts_s: 8, rate_Hz: 100 }), {
      kind: "end",
      at_us: 8_123_456,
      because: "technique",
    });
    const result = resultOf(run(setupOf({ reading_rate_Hz: 100 }), inputs));
    expect(result).toMatchObject({ stop_reason: "on-request", ended_because: "technique", decided_us: 8_123_456 });
    expect(result.duration_s).toBeCloseTo(8.123456 - result.onset_us / 1e6, 9);
    expect(result.time_under_tension_s).toBeCloseTo(7.99 - result.onset_us / 1e6, 9);
    expect(result.final_N).toBeCloseTo(meanBefore(force, 7.99), 3);
  });

  it("one effort, isometric, never brief, not compared across actions", () => {
    const result = ended(pulled([1, 700]), 6);
    expect(result.efforts).toHaveLength(1);
    expect(result.efforts[0]).toMatchObject({
      effort_number: 1,
      muscle_action: "isometric",
      counted: true,
      brief: false,
    });
    expect(result).toMatchObject({ decided_by: "isometric", concentric_best_N: null, eccentric_best_N: null });
    expect(result.decline_per_effort).toBeNull();
  });

  it("without a threshold there is no floor to be below", () => {
    const ran = held(pulled([1, 1000], [5, 1000], [6, 100], [60, 100]), 20, { fatigue_threshold: null });
    expect(ran.state.is).toBe("holding");
    expect(viewOf(ran.state)).toMatchObject({ floor_N: null, reserve: null, below_floor_s: null });
  });
});

describe("decline of a hold", () => {
  it("is the least-squares slope from the best on, as a share of best", () => {
    // A straight loss of 10 N/s from 1000 N: the slope is that of the line itself.
    const { decline_per_s, best_N } = ended(pulled([1, 1000], [41, 600]), 20);
    expect((decline_per_s ?? 0) * (best_N ?? 0)).toBeCloseTo(10, 3);
  });

  it.each([
    [2.95, false],
    [3.05, true],
  ])("is null under 3 s: %f s", (stretch_s, known) => {
    expect(ended(pulled([1, 1000], [60, 900]), 1 + stretch_s).decline_per_s !== null).toBe(known);
  });
});

describe("what is seen of a hold", () => {
  it("is nearing the floor at a quarter of the reserve", () => {
    const ran = held(pulled([1, 1000], [5, 1000], [25, 600], [60, 650]), 40);
    const nearing = ran.told.find(({ effect }) => effect.do === "nearing");
    // Reserve 0.25 is 700 N, which the line meets at 20 s and its trailing mean half a second later.
    expect(nearing?.at_s).toBeGreaterThan(20.49);
    expect(nearing?.at_s).toBeLessThan(20.52);
  });

  it("reserve and time below the floor", () => {
    const at = (at_s: number) => viewOf(held(pulled([1, 1000], [5, 1000], [25, 600], [60, 550]), at_s + 0.005).state);
    expect(at(10).reserve).toBeCloseTo((910 - 600) / 400, 6);
    expect(at(10).below_floor_s).toBe(0);
    expect(at(3).reserve).toBeCloseTo(1, 9);
    expect(at(26.3).below_floor_s).toBeGreaterThan(0.1);
  });
});
