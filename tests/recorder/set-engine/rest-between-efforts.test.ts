/** A hand or a strap left on the handle between efforts does not stop the rest. */
import { expect, it } from "vitest";
import { plateaus, resultOf, runTrace } from "./run.ts";

const EFFORTS = [
  [1, 2, 300],
  [4, 2, 300],
] as const;

it.each([
  ["nothing is left on it", 0],
  ["a strap pulls just under the release", 11],
  ["a hand comes back to rest on it, between release and onset", 16],
])("the rest limit comes 8 s after the last effort where %s", (_, left_N) => {
  // On a stack nothing is compared, so the attempt level is the release: 12 N of an onset of 20 N.
  const changes = { style: "continuous", resistance: "stack", fatigue_threshold: null } as const;
  const efforts = plateaus(EFFORTS);
  // Let go of for a moment first: a force that stays above the release belongs to the effort.
  const free = (at_s: number): boolean => at_s < 1 || (at_s > 3 && at_s < 3.2) || (at_s > 6 && at_s < 6.2);
  const force = (at_s: number): number => (free(at_s) ? efforts(at_s) : Math.max(efforts(at_s), left_N));
  const result = resultOf(runTrace(changes, { force, lasts_s: 30 }));
  expect(result).toMatchObject({ stop_reason: "rest-limit" });
  expect(result.decided_us / 1e6).toBeCloseTo(14, 1);
  // While resting a set lasts to the end of its last counted effort.
  expect(result.duration_s).toBeCloseTo(5, 1);
});
