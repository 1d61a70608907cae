/** What an effort that is too weak, cut off, or only taken over from another muscle action may decide: nothing. */
import { describe, expect, it } from "vitest";
import type { MuscleAction } from "../../../protocol/vocabulary.ts";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import { corners, plateaus, readingsOf, resultOf, run, runTrace, setupOf, together } from "./run.ts";

const CONTINUOUS = { style: "continuous" } as const;
const endAt = (at_s: number): EngineInput => ({ kind: "end", at_us: at_s * 1e6, because: null });

describe("with a tested best, before anything was counted", () => {
  const tested = { ...CONTINUOUS, options: { tested_best_force_N: 1000 } };

  it("a push below the attempt level begins no set", () => {
    const ran = runTrace(tested, { force: plateaus([[1, 0.6, 299]]), lasts_s: 5 });
    expect(ran.state.is).toBe("armed");
    expect(ran.result).toBeNull();
  });

  it("one just above it does, and is below the floor", () => {
    const ran = runTrace(tested, { force: plateaus([[1, 0.6, 301]]), lasts_s: 5 });
    expect(resultOf(ran)).toMatchObject({ stop_reason: "effort-below-floor" });
  });
});

describe("a known muscle action", () => {
  const concentric = (): MuscleAction => "concentric";
  /** Two good efforts, then one that sags in its middle and comes up again. */
  const sagging = (again_N: number, sag_N: number) =>
    corners(
      ...[1, 4].flatMap(
        (at_s) =>
          [
            [at_s, 0],
            [at_s + 0.1, 1000],
            [at_s + 2, 1000],
            [at_s + 2.1, 0],
          ] as const,
      ),
      [7, 0],
      [7.1, 550],
      [7.6, 550],
      [7.8, sag_N],
      [8.4, sag_N],
      [8.6, again_N],
      [9.4, again_N],
      [9.5, 0],
      [12, 0],
    );

  it("is not judged in the dip between two peaks: the second may reach the floor", () => {
    const ran = runTrace(CONTINUOUS, { force: sagging(800, 400), action: concentric, lasts_s: 11 });
    expect(ran.result).toBeNull();
  });

  it("is judged at its end where the second does not", () => {
    const ran = runTrace(CONTINUOUS, { force: sagging(560, 400), action: concentric, lasts_s: 11 });
    expect(resultOf(ran)).toMatchObject({ stop_reason: "effort-below-floor" });
    expect(resultOf(ran).decided_us / 1e6).toBeCloseTo(9.5, 1);
  });

  it("is judged as soon as its force is spent: under half of its peak", () => {
    const ran = runTrace(CONTINUOUS, { force: sagging(100, 250), action: concentric, lasts_s: 11 });
    expect(resultOf(ran).decided_us / 1e6).toBeLessThan(8.1);
  });

  it("takes no strength over from the one before it", () => {
    // Lowered with 1080 N, turned round without letting go, pushed with 780 N: the fall between takes 0.25 s.
    const strokes = [1, 7, 13].flatMap(
      (at_s) =>
        [
          [at_s, 0],
          [at_s + 0.1, 1080],
          [at_s + 3, 1080],
          [at_s + 3.25, 780],
          [at_s + 5.5, 780],
          [at_s + 5.6, 0],
        ] as const,
    );
    const action = (at_s: number): MuscleAction => ((at_s - 1) % 6 < 3 ? "eccentric" : "concentric");
    const inputs = together(readingsOf({ force: corners(...strokes), action, lasts_s: 19 }), endAt(19));
    const result = resultOf(run(setupOf(CONTINUOUS), inputs));
    expect(result.concentric_best_N).toBeCloseTo(780, 0);
    expect(result.best_N).toBeCloseTo(780, 0);
    expect(result.eccentric_best_N).toBeCloseTo(1080, 0);
  });
});

describe("an effort cut off by the end of the set", () => {
  const three = [
    [1, 2, 1000],
    [4, 2, 1000],
    [7, 2, 900],
  ] as const;

  it("is counted and timed but is not the final one, where it had no time to show its strength", () => {
    const inputs = together(readingsOf({ force: plateaus([...three, [10, 2, 400]]), lasts_s: 10.6 }), endAt(10.6));
    const result = resultOf(run(setupOf(CONTINUOUS), inputs));
    expect(result.efforts).toHaveLength(4);
    expect(result.efforts[3]).toMatchObject({ counted: true, below_floor: null });
    expect(result.final_N).toBeCloseTo(900, 0);
  });

  it("is the final one once it has lasted 60 % of what the others did", () => {
    const inputs = together(readingsOf({ force: plateaus([...three, [10, 2, 400]]), lasts_s: 11.4 }), endAt(11.4));
    expect(resultOf(run(setupOf(CONTINUOUS), inputs)).final_N).toBeCloseTo(400, 0);
  });
});

describe("halves of a repetition", () => {
  it("a touch between two repetitions pairs with neither", () => {
    const halves = [1, 2.5, 5, 6.5, 11, 12.5].map((at_s, index) => [at_s, 1.2, index % 2 === 0 ? 800 : 1080] as const);
    const force = plateaus([...halves, [9, 0.4, 100]]);
    const inputs = together(readingsOf({ force, lasts_s: 15 }), endAt(15));
    const setup = setupOf({ ...CONTINUOUS, peaks_per_repetition: 2 });
    const { efforts } = resultOf(run(setup, inputs));
    expect(efforts.map(({ counted }) => counted)).toEqual([true, true, false, true]);
    expect(efforts.filter(({ counted }) => counted).map(({ peak_N }) => Math.round(peak_N))).toEqual([
      1080, 1080, 1080,
    ]);
  });
});

describe("the decline", () => {
  it("begins no higher than the best, which one lone peak does not raise", () => {
    const peaks = [1900, 1000, 950, 900, 850].map((peak_N, index) => [1 + 3 * index, 2, peak_N] as const);
    const inputs = together(readingsOf({ force: plateaus(peaks), lasts_s: 16 }), endAt(16));
    const result = resultOf(run(setupOf(CONTINUOUS), inputs));
    expect(result.best_N).toBeCloseTo(1100, 0);
    // Least squares over 1100, 1000, 950, 900, 850: -60 N an effort.
    expect(result.decline_per_effort).toBeCloseTo(60 / 1100, 3);
  });
});
