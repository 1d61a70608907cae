/**
 * How far to trust what a set says: the expanded uncertainty (k = 2) of its best force and of its force loss.
 *
 * The best carries the scale of the calibration in full: what goes with the force in proportion, what is the same at every
 * force as it is. In the loss the scale cancels, because best and final are read through the same record; what is left is a
 * common offset, which counts in proportion to the loss, the noise of both, and what checks have shown: the sensor's bend,
 * and how best and final were reached. A hold is one loading: its best is reached from below and its final force from above,
 * so that the bearing's friction stands between them and what scatters from one loading to the next does not. With efforts,
 * each of which rises to its own peak, it is the other way round.
 */

import type { BudgetLine, CalibrationRecord } from "../record.ts";
import { division_N } from "../scale.ts";
import { BEND, REPEATABILITY, ZERO_RETURN } from "./check-budget.ts";
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
  /** One loading from beginning to end; otherwise efforts. */
  readonly is_hold: boolean;
  readonly record: LossRecord;
}
type LossRecord = Pick<CalibrationRecord, "budget" | "friction_N">;

/** Expanded uncertainty (k = 2) of (best - final) / best, as a fraction; null without a best above zero. */
export function lossUncertainty(set: LossFacts): number | null {
  const { best_force_N: best_N, record } = set;
  if (!(best_N > 0)) return null;
  const left = set.final_force_N / best_N;
  const common_N = combined(offset_N(set), lineOf_N(record, ZERO_RETURN));
  const own_N = combined(smoothedNoise_N(set), reachedApart_N(set));
  const bend_N = bendBetween_N(record, left);
  return (COVERAGE * combined((1 - left) * common_N, own_N, left * own_N, bend_N)) / best_N;
}

/** What best and final each have of their own by the way they were reached, standard, N. */
function reachedApart_N({ is_hold, record }: LossFacts): number {
  return is_hold ? rectangular(record.friction_N ?? 0) : lineOf_N(record, REPEATABILITY);
}

const lineOf_N = ({ budget }: Pick<CalibrationRecord, "budget">, source: string): number =>
  budget.find((line) => line.source === source)?.standard_uncertainty_N ?? 0;

/**
 * How far the sensor's bend may put best and final apart, standard, N. Far from each other either may be off on its own. Near
 * each other they are off alike: a bend of the shape of a parabola rises by at most four times its height over its span.
 */
function bendBetween_N(record: LossRecord, left: number): number {
  return lineOf_N(record, BEND) * Math.hypot(1, left) * Math.min(1, 4 * Math.abs(1 - left));
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
