/**
 * How far to trust what a set says: the expanded uncertainty (k = 2) of its best force and of its force loss.
 *
 * The best carries the scale of the calibration in full: what goes with the force in proportion, what is the same at every
 * force as it is. In the loss the scale cancels, because best and final are read through the same record; what is left is a
 * common offset, which counts in proportion to the loss, the noise of both, and the sensor's bend as far as checks have
 * shown it. Friction cancels too, as long as best and final were reached the same way.
 */

import { BEND } from "./check-budget.ts";
import type { BudgetLine, CalibrationRecord } from "./record.ts";
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
  readonly record: Pick<CalibrationRecord, "expanded_uncertainty_N" | "working_force_N" | "budget">;
}

/** Expanded uncertainty (k = 2) of the best force of a set, N. */
export function setUncertainty(set: BestFacts): number {
  const { expanded_uncertainty_N, working_force_N, budget } = set.record;
  const standard_N = expanded_uncertainty_N / COVERAGE;
  const constant_N = combined(...budget.filter(isConstant).map((line) => line.standard_uncertainty_N));
  // Records of before there were checks have no constant line, and give the numbers they always gave.
  const rest_N = constant_N === 0 ? standard_N : Math.sqrt(Math.max(0, standard_N ** 2 - constant_N ** 2));
  const scale_N = (rest_N / working_force_N) * set.best_force_N;
  return COVERAGE * combined(scale_N, constant_N, offset_N(set), smoothedNoise_N(set));
}

const isConstant = (line: BudgetLine): boolean => line.constant === true;

export interface LossFacts extends SetFacts {
  readonly final_force_N: number;
  readonly record: Pick<CalibrationRecord, "budget">;
}

/** Expanded uncertainty (k = 2) of (best - final) / best, as a fraction; null without a best above zero. */
export function lossUncertainty(set: LossFacts): number | null {
  const best_N = set.best_force_N;
  if (!(best_N > 0)) return null;
  const left = set.final_force_N / best_N;
  const noise = smoothedNoise_N(set) / best_N;
  const bend = bendBetween_N(set.record, left) / best_N;
  return COVERAGE * combined(((1 - left) * offset_N(set)) / best_N, noise, left * noise, bend);
}

/**
 * How far the sensor's bend may put best and final apart, standard, N. Far from each other either may be off on its own. Near
 * each other they are off alike: a bend of the shape of a parabola rises by at most four times its height over its span.
 */
function bendBetween_N({ budget }: Pick<CalibrationRecord, "budget">, left: number): number {
  const bend_N = budget.find(({ source }) => source === BEND)?.standard_uncertainty_N ?? 0;
  return bend_N * Math.hypot(1, left) * Math.min(1, 4 * Math.abs(1 - left));
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
