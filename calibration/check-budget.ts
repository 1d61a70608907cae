/**
 * What the checks of a new scale add to its uncertainty budget: non-linearity, zero return, repeatability. A line through
 * two points has no residual of its own, so this is all that is known of how straight the sensor is.
 *
 * These are forces, the same at every force: nobody knows how they go between the loads that were hung. A line that nothing
 * is known of is not there.
 */
import type { BudgetLine, Check } from "./record.ts";
import { rectangular } from "./uncertainty.ts";

/** The line of the sensor's bend, which does not cancel in a loss of force. */
export const BEND = "non-linearity";
/** Checks within this of the calibration load see whether it comes again, and nothing of the line between. */
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
  const scatter_N = scatterOf_N(hung);
  return [
    line(BEND, rectangular(bend_N)),
    ...(empty.length > 0 ? [line("zero return", rectangular(Math.max(...empty)))] : []),
    ...(scatter_N === null ? [] : [line("repeatability", scatter_N)]),
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
function largestResidual_N(checks: readonly Check[]): number {
  const means = levels(checks, sameLoad).map(
    (level) =>
      level.reduce((sum, { indicated_force_N, force_N }) => sum + indicated_force_N - force_N, 0) / level.length,
  );
  return Math.max(...means.map(Math.abs));
}

/** Standard deviation of one hanging of a load, from those hung more than once the same way; null: none was. Type A. */
function scatterOf_N(checks: readonly Check[]): number | null {
  const again = levels(checks, (one, other) => one.loading === other.loading && sameLoad(one, other)).filter(
    ({ length }) => length > 1,
  );
  let squares_N2 = 0;
  let freedom = 0;
  for (const level of again) {
    const errors = level.map(({ indicated_force_N, force_N }) => indicated_force_N - force_N);
    const mean = errors.reduce((sum, error) => sum + error, 0) / errors.length;
    for (const error of errors) squares_N2 += (error - mean) ** 2;
    freedom += errors.length - 1;
  }
  return freedom === 0 ? null : Math.sqrt(squares_N2 / freedom);
}

const sameLoad = (one: Check, other: Check): boolean =>
  Math.abs(one.force_N - other.force_N) <= 1e-6 * Math.max(one.force_N, other.force_N);

function levels(checks: readonly Check[], alike: (one: Check, other: Check) => boolean): Check[][] {
  const found: Check[][] = [];
  for (const check of checks) {
    const level = found.find(([first]) => first !== undefined && alike(first, check));
    if (level === undefined) found.push([check]);
    else level.push(check);
  }
  return found;
}
