/** The resting force: one still second while armed, within 10 % of capacity. */
import { describe, expect, it } from "vitest";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import { corners, plateaus, type Run, readingsOf, resultOf, run, runTrace, setupOf, together } from "./run.ts";

const ask = (at_s: number): EngineInput => ({ kind: "resting", at_us: at_s * 1e6 });
const end = (at_s: number): EngineInput => ({ kind: "end", at_us: at_s * 1e6, because: null });
const effects = (ran: Run) => ran.told.map(({ effect }) => effect);

function asked(force: (at_s: number) => number, changes: Parameters<typeof setupOf>[0] = {}, lasts_s = 4): Run {
  return run(setupOf(changes), together(readingsOf({ force, lasts_s }), ask(1)));
}

describe("a resting force", () => {
  it("is the mean of the second after it was asked for", () => {
    const ran = asked(corners([1, 100], [2, 108]));
    expect(ran.told).toHaveLength(1);
    expect(ran.told[0]?.at_s).toBe(2);
    const [taken] = effects(ran);
    if (taken?.do !== "resting-taken") throw new Error("not taken");
    expect(taken.force_N).toBeCloseTo(104, 9);
  });

  // Still: within the greater of 8 x noise and half a percent of capacity, here 10 N.
  it.each([
    [9.9, "resting-taken"],
    [10, "resting-taken"],
    [10.1, "resting-refused"],
  ])("moving by %f N: %s", (moved_N, told) => {
    expect(effects(asked(corners([1, 100], [2, 100 + moved_N])))[0]?.do).toBe(told);
  });

  it.each([
    [199.999, "resting-taken"],
    [200.001, "resting-refused"],
    [-199.999, "resting-taken"],
    [-200.001, "resting-refused"],
  ])("of %f N on a 2 kN cell: %s", (force_N, told) => {
    const [effect] = effects(asked(() => force_N));
    expect(effect?.do).toBe(told);
    if (effect?.do === "resting-refused") expect(effect.code).toBe("out-of-range");
  });

  it("says what would do when it is refused", () => {
    const [moved] = effects(asked(corners([1, 100], [2, 150])));
    if (moved?.do !== "resting-refused") throw new Error("not refused");
    expect(moved.code).toBe("not-still");
    expect(moved.message).toMatch(/moved by 50\.0 N, 10\.0 N would do/);
  });

  it("is refused where readings were missing, and armed goes on", () => {
    const ran = run(setupOf({}), together(readingsOf({ force: () => 50, lasts_s: 3, lost: [[1.2, 1.7]] }), ask(1)));
    expect(effects(ran)[0]).toMatchObject({ do: "resting-refused", code: "not-still" });
    expect(ran.state.is).toBe("armed");
  });

  it("lifts onset and release where it is not subtracted", () => {
    for (const [force_N, is] of [
      [119.999, "armed"],
      [120.001, "exerting"],
    ] as const) {
      const ran = asked(corners([3, 100], [3.1, force_N]), { style: "continuous" });
      expect(ran.state.is, `${force_N} N`).toBe(is);
    }
    // Release at 100 + 0.6 x 20 N.
    const held = asked(corners([3, 100], [3.1, 300], [3.6, 300], [3.7, 112.001]), { style: "continuous" }, 5);
    expect(effects(held).map((effect) => effect.do)).toEqual(["resting-taken", "phase"]);
    const left = asked(corners([3, 100], [3.1, 300], [3.6, 300], [3.7, 111.999]), { style: "continuous" }, 5);
    expect(effects(left).map((effect) => effect.do)).toContain("effort");
  });

  it("is taken off every reading where the station says so: the same set as without the limb", () => {
    const set = plateaus([
      [4, 2, 800],
      [7, 2, 700],
      [10, 2, 400],
    ]);
    const changes = { style: "continuous", subtract_resting: true } as const;
    const light = resultOf(runTrace(changes, { force: set, lasts_s: 12 }));
    const limb = run(setupOf(changes), together(readingsOf({ force: (t) => set(t) + 64, lasts_s: 12 }), ask(1)));
    const result = resultOf(limb);
    expect(result).toMatchObject({ resting_N: 64, stop_reason: light.stop_reason, duration_s: light.duration_s });
    for (const name of ["best_N", "floor_N", "final_N", "impulse_N_s"] as const) {
      expect(result[name], name).toBeCloseTo(light[name] as number, 6);
    }
  });

  it("asked for again replaces the former one", () => {
    for (const subtract_resting of [true, false]) {
      const force = corners([2.5, 60], [2.6, 75], [5, 75], [5.1, 600]);
      const inputs = together(readingsOf({ force, lasts_s: 8 }), ask(1), ask(3), end(7.9));
      const ran = run(setupOf({ style: "continuous", subtract_resting }), inputs);
      expect(resultOf(ran).resting_N).toBeCloseTo(75, 9);
      expect(resultOf(ran).best_N).toBeCloseTo(subtract_resting ? 525 : 600, 9);
    }
  });

  it("is null in a set that took none", () => {
    const ran = run(
      setupOf({ style: "continuous" }),
      together(readingsOf({ force: plateaus([[1, 2, 500]]), lasts_s: 4 }), end(3.9)),
    );
    expect(resultOf(ran).resting_N).toBeNull();
  });

  it("keeps an effort from beginning while it is taken, and whoever pushed must first let go", () => {
    const pushed = asked(corners([1.5, 0], [1.6, 400], [6, 400]), { style: "continuous" }, 6);
    expect(effects(pushed).map((effect) => effect.do)).toEqual(["resting-refused"]);
    const again = asked(
      corners([1.5, 0], [1.6, 400], [3, 400], [3.1, 0], [4, 0], [4.1, 400]),
      { style: "continuous" },
      5,
    );
    expect(again.told.at(-1)).toMatchObject({ effect: { do: "phase", phase: "working" } });
    expect(again.told.at(-1)?.at_s).toBeGreaterThan(4);
  });

  it.each(["hold", "continuous"] as const)("is not taken in a running set: %s", (style) => {
    const readings = readingsOf({ force: plateaus([[1, 5, 500]]), lasts_s: 4 });
    expect(run(setupOf({ style }), together(readings, ask(2))).state).toEqual(run(setupOf({ style }), readings).state);
  });
});
