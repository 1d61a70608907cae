/** The forces at which an effort begins and ends, N, as the engine compares them. */
import { ATTEMPT_SHARE, RELEASE_SHARE, type SetSetup } from "./setup.ts";

export interface Levels {
  /** Taken off every reading. */
  readonly subtracted_N: number;
  readonly onset_N: number;
  readonly release_N: number;
}

/** Onset counts from the resting force, where one was taken; where it is subtracted, it is already gone. */
export function levelsOf(setup: SetSetup, resting_N: number | null): Levels {
  const subtracted_N = setup.subtract_resting ? (resting_N ?? 0) : 0;
  const base_N = setup.subtract_resting ? 0 : (resting_N ?? 0);
  const onset_N = setup.options.onset_force_N;
  return { subtracted_N, onset_N: base_N + onset_N, release_N: base_N + onset_N * RELEASE_SHARE };
}

/** Best times what may be left of it, N; null where nothing is compared or there is no best yet. */
export function floorOf(setup: SetSetup, best_N: number | null): number | null {
  const { options, fatigue_threshold } = setup;
  if (fatigue_threshold === null) return null;
  const today_N = options.best_from === "today" ? (setup.today_best_force_N ?? 0) : 0;
  const reference_N = Math.max(best_N ?? 0, options.tested_best_force_N ?? 0, today_N);
  return reference_N > 0 ? reference_N * (1 - fatigue_threshold) : null;
}

/** What the floor is a share of: the set's best, or the tested or today's best where that is higher, N. */
function referenceOf(setup: SetSetup, floor_N: number): number {
  return floor_N / (1 - (setup.fatigue_threshold ?? 0));
}

/** Below this, force is rest and no attempt, N. */
export function attemptLevel_N(levels: Levels, floor_N: number | null): number {
  return floor_N === null ? levels.release_N : Math.max(levels.release_N, floor_N * ATTEMPT_SHARE);
}

/** Force reserve, 0..1: how much of the way from floor to best is left; null without a floor. */
export function reserveOf(setup: SetSetup, floor_N: number | null, force_N: number): number | null {
  if (floor_N === null) return null;
  const reserve = (force_N - floor_N) / (referenceOf(setup, floor_N) - floor_N);
  return Math.min(1, Math.max(0, reserve));
}

/** Force comes back under the ceiling only by so much, so that noise at the edge does not toggle it. */
const CEILING_RELEASE = 0.97;

/** Whether force is above the ceiling the set was given; `was`: it was a reading ago. */
export function isAboveCeiling({ options }: SetSetup, force_N: number, was: boolean): boolean {
  const ceiling_N = options.ceiling_force_N;
  return ceiling_N !== null && force_N > ceiling_N * (was ? CEILING_RELEASE : 1);
}
