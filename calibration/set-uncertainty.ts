/**
 * How far to trust what a set says: the expanded uncertainty (k = 2) of its best force and of its force loss.
 *
 * The best carries the scale of the calibration in full. In the loss the scale cancels, because best and final are read
 * through the same record; what is left is a common offset, which counts in proportion to the loss, and the noise of
 * both. Non-linearity does not cancel and is not known from two points.
 */
import type { CalibrationRecord } from "./record.ts";
import { division_N } from "./scale.ts";
import { COVERAGE, combined, rectangular } from "./uncertainty.ts";

/** What both need to know of the set. */
export interface SetFacts {
  readonly best_force_N: number;
  readonly cell_capacity_N: number;
  /** Standard deviation of one median-filtered reading at rest; null: never measured. */
  readonly noise_N: number | null;
  /** Readings inside the smoothing window. */
  readonly smoothed_readings: number;
  /**
   * Resting force taken for this set, where its efforts move; null: none taken, or a hold. What a limb puts on the
   * sensor changes on its way, anywhere between nothing and this.
   */
  readonly moving_resting_force_N: number | null;
}

export interface BestFacts extends SetFacts {
  readonly record: Pick<CalibrationRecord, "expanded_uncertainty_N" | "working_force_N">;
}

/** Expanded uncertainty (k = 2) of the best force of a set, N. */
export function setUncertainty(set: BestFacts): number {
  const relative = set.record.expanded_uncertainty_N / COVERAGE / set.record.working_force_N;
  return COVERAGE * combined(relative * set.best_force_N, offset_N(set), smoothedNoise_N(set));
}

export interface LossFacts extends SetFacts {
  readonly final_force_N: number;
}

/** Expanded uncertainty (k = 2) of (best - final) / best, as a fraction; null without a best above zero. */
export function lossUncertainty(set: LossFacts): number | null {
  const best_N = set.best_force_N;
  if (!(best_N > 0)) return null;
  const left = set.final_force_N / best_N;
  const noise = smoothedNoise_N(set) / best_N;
  return COVERAGE * combined(((1 - left) * offset_N(set)) / best_N, noise, left * noise);
}

/** What shifts every force of a set alike: a zero within one division, and half the resting force either way. */
function offset_N(set: SetFacts): number {
  const resting_N = set.moving_resting_force_N ?? 0;
  return combined(rectangular(division_N(set.cell_capacity_N)), rectangular(Math.abs(resting_N) / 2));
}

/** The median of three ties neighbours together: of n readings a third count as independent. */
function smoothedNoise_N(set: SetFacts): number {
  return (set.noise_N ?? 0) / Math.sqrt(Math.max(1, set.smoothed_readings / 3));
}
