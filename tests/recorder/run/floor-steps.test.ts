/** Where the floor rose in a kept set, by running its log once more. */
import { describe, expect, test } from "vitest";
import { floorSteps } from "../../../recorder/run/floor-steps.ts";
import { drawnSet, keptSet, SET_NAMES } from "../drawing/drawn-sets.ts";
import { readyBench } from "../station/bench.ts";

const stepAt = (steps: readonly { elapsed_s: number; floor_force_N: number | null }[], s: number): number | null =>
  steps.findLast(({ elapsed_s }) => elapsed_s <= s)?.floor_force_N ?? null;

describe.each(SET_NAMES)("%s", (name) => {
  test("rises, never falls, and ends at the floor that was kept", async () => {
    const { message, floor } = await drawnSet(name);
    const { steps } = floor!;
    for (const [index, step] of steps.entries()) {
      const before = steps[index - 1];
      if (before === undefined) continue;
      expect(step.elapsed_s).toBeGreaterThanOrEqual(before.elapsed_s);
      expect(step.floor_force_N!).toBeGreaterThan(before.floor_force_N ?? 0);
    }
    const last_N = steps.at(-1)!.floor_force_N;
    if (message.floor_force_N === null) expect(last_N).toBeNull();
    else expect(last_N).toBeCloseTo(message.floor_force_N, 1);
  });
});

test.each(["continuous", "continuous-thirty", "rest-pause", "eccentric-only", "unconfirmed"])(
  "in %s every judged effort had the floor it was judged by",
  async (name) => {
    const { message, floor } = await drawnSet(name);
    const judged = message.efforts.filter(({ below_floor }) => below_floor !== null);
    expect(judged.length).toBeGreaterThan(3);
    for (const { start_s, duration_s, floor_force_N } of judged) {
      // Judged by its end; one whose own peak raises the floor is judged by what it raised it from or to.
      const possible = [start_s, start_s + duration_s, start_s + duration_s + 0.5].map(
        (s) => stepAt(floor!.steps, s) ?? 0,
      );
      expect(Math.min(...possible.map((N) => Math.abs(N - (floor_force_N ?? 0))))).toBeLessThan(0.02);
    }
  },
);

test("a hold has its first floor when its first second is confirmed, 2 s after the onset, and its best in the middle of that second", () => {
  const { message, log } = readyBench({ station: { style: "hold" } })
    .begin({ fatigue_threshold: 0.4 })
    .pull(1, 0)
    .pull(6, (s) => (s < 0.02 ? 0 : 1000))
    .pull(4, 500).kept[0]!;
  const { steps, best_s } = floorSteps(message, log)!;
  expect(steps[0]!.floor_force_N).toBeNull();
  expect(steps[1]!.elapsed_s).toBeCloseTo(2, 1);
  expect(steps[1]!.floor_force_N).toBeGreaterThan(590);
  expect(steps.at(-1)!.floor_force_N).toBeCloseTo(600, 0);
  expect(best_s).toBeGreaterThan(0.45);
  expect(best_s).toBeLessThan(5);
});

test("a false start leaves nothing behind", () => {
  const { message, log } = readyBench({ station: { style: "hold" } })
    .begin({ fatigue_threshold: 0.4 })
    .pull(1, 0)
    .pull(1, 1500)
    .pull(3, 0)
    .pull(6, 1000)
    .pull(4, 400).kept[0]!;
  const { steps } = floorSteps(message, log)!;
  expect(steps[0]!.elapsed_s).toBeCloseTo(0, 1);
  expect(Math.max(...steps.map(({ floor_force_N }) => floor_force_N ?? 0))).toBeLessThan(602);
});

test("a floor that other rules came to is not replaced by one that did not decide", () => {
  const { message, log } = keptSet("continuous");
  expect(floorSteps(message, log)).not.toBeNull();
  expect(floorSteps({ ...message, floor_force_N: message.floor_force_N! + 5 }, log)).toBeNull();
  expect(floorSteps({ ...message, floor_force_N: null }, log)).toBeNull();
});

test("a log that cannot be read has none", () => {
  const { message, log } = keptSet("hold");
  expect(floorSteps(message, { ...log, arm: { style: "hold" } })).toBeNull();
});
