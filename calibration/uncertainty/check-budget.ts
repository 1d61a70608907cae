/**
 * What the checks of a new scale add to its uncertainty budget: non-linearity, zero return, repeatability. A line through
 * two points has no residual of its own, so this is all that is known of how straight the sensor is.
 *
 * These are forces, the same at every force: nobody knows how they go between the loads that were hung. A line that nothing
 * is known of is not there.
 */
import { sameForce } from "../procedure/known-load.ts";
import type { BudgetLine, Check } from "../record.ts";
import { studentT95 } from "./student-t.ts";
import { COVERAGE, rectangular } from "./uncertainty.ts";

/** The line of the sensor's bend, which does not cancel in a loss of force. */
export const BEND = "non-linearity";
/** A common offset of all that is read after a load. */
export const ZERO_RETURN = "zero return";
/** What one loading has of its own. */
export const REPEATABILITY = "repeatability";
/** Checks within this of the calibration load see whether it comes again (repeatability), and nothing of the line between. */
const SAME_LEVEL = 0.1;
/** Of capacity, half-width: taken for the bend of a sound cell where no other load than the first was hung (common practice, no source). */
const SOUND_CELL = 0.001;

export interface CheckedScale {
  /** As-left. */
  readonly checks: readonly Check[];
  /** The true force of the load point, N. */
  readonly load_N: number;
  readonly cell_capacity_N: number;
}

export function checkLines({ checks, load_N, cell_capacity_N }: CheckedScale): BudgetLine[] {
  const hung = checks.filter(({ force_N }) => force_N > 0);
  const elsewhere = hung.filter(({ force_N }) => !isNear(force_N, load_N));
  const bend_N = elsewhere.length > 0 ? largestResidual_N(elsewhere) : SOUND_CELL * cell_capacity_N;
  const empty = checks
    .filter(({ force_N }) => force_N === 0)
    .map(({ indicated_force_N }) => Math.abs(indicated_force_N));
  const scatter_N = scatterOf_N(hung, load_N);
  return [
    line(BEND, rectangular(bend_N)),
    ...(empty.length > 0 ? [line(ZERO_RETURN, rectangular(Math.max(...empty)))] : []),
    ...(scatter_N === null ? [] : [line(REPEATABILITY, scatter_N)]),
  ];
}

/** For whoever has hung no other load than that of the load point: what is taken for the bend then; null: another was hung. */
export function bendRemark(checks: readonly Check[], load_N: number): string | null {
  if (checks.some(({ force_N }) => force_N > 0 && !isNear(force_N, load_N))) return null;
  return "No other load than that of the load point was checked: 0.1 % of capacity is taken for the sensor's bend.";
}

const line = (source: string, standard_uncertainty_N: number): BudgetLine => ({
  source,
  standard_uncertainty_N,
  constant: true,
});

const isNear = (force_N: number, load_N: number): boolean => Math.abs(force_N - load_N) <= SAME_LEVEL * load_N;

/** The largest mean residual of any level: what scatters or hangs in the bearing has lines of its own. */
const largestResidual_N = (checks: readonly Check[]): number =>
  Math.max(...levels(checks, sameLoad).map((level) => Math.abs(meanError_N(level))));

const errorOf_N = ({ indicated_force_N, force_N }: Check): number => indicated_force_N - force_N;
const meanError_N = (checks: readonly Check[]): number =>
  checks.reduce((sum, check) => sum + errorOf_N(check), 0) / checks.length;

/**
 * Standard deviation of one hanging of a load, from those hung more than once the same way and from the load point, which is
 * one hanging, too: the line goes through it, so that it reads right, and what its load reads when hung again is off by both.
 * null: nothing was hung twice. Type A, pooled over all; widened so that twice it covers what Student's t says of so few.
 */
function scatterOf_N(checks: readonly Check[], load_N: number): number | null {
  const again = levels(checks, (one, other) => one.loading === other.loading && sameLoad(one, other)).filter(
    ({ length }) => length > 1,
  );
  let squares_N2 = 0;
  let freedom = 0;
  for (const level of again) {
    const mean_N = meanError_N(level);
    for (const check of level) squares_N2 += (errorOf_N(check) - mean_N) ** 2;
    freedom += level.length - 1;
  }
  const anew = checks.filter(({ force_N }) => isNear(force_N, load_N));
  if (anew.length > 0) {
    squares_N2 += meanError_N(anew) ** 2 / 2;
    freedom += 1;
  }
  return freedom === 0 ? null : (studentT95(freedom) / COVERAGE) * Math.sqrt(squares_N2 / freedom);
}

const sameLoad = (one: Check, other: Check): boolean => sameForce(one.force_N, other.force_N);

function levels(checks: readonly Check[], alike: (one: Check, other: Check) => boolean): Check[][] {
  const found: Check[][] = [];
  for (const check of checks) {
    const level = found.find(([first]) => first !== undefined && alike(first, check));
    if (level === undefined) found.push([check]);
    else level.push(check);
  }
  return found;
}
