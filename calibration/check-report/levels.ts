/**
 * Checks with known loads, level by level: error, repeatability, reversibility. Fractions of the true force unless a name
 * ends in N. Signs: positive where the scale says more than hangs there, and where it says more going down than going up.
 *
 * Repeatability is b of ISO 7500-1: the largest less the smallest error of the increasing series at one level. Sheets are
 * about that take the first less the last series, or divide by the mean: those are other numbers under the same name.
 */
import { GRAVITY_TOLERANCE } from "../gravity.ts";
import type { Check } from "../record.ts";
import { combined, rectangular } from "../uncertainty/uncertainty.ts";

/** Loads closer than this are one level. */
const SAME_LEVEL = 0.001;

export interface Level {
  /** The mean of the true forces of its loads, N. */
  readonly force_N: number;
  /** Masses it was made of, kg, where all were the same one; null: a force, or several masses. */
  readonly mass_kg: number | null;
  /** By series, then increasing before decreasing. */
  readonly runs: readonly Run[];
  /** Of the increasing series; null: none. */
  readonly mean_error: number | null;
  /** The largest of any increasing series, by size; null: none. */
  readonly worst_error: number | null;
  /** null: fewer than two increasing series. */
  readonly repeatability: number | null;
  /** Decreasing less increasing, mean of the series that have both; null: no such series. */
  readonly reversibility: number | null;
  /** What the loads are known to, half-width: the worst of them. */
  readonly relative_tolerance: number;
  /** k = 2: of the true force and of the reading of one run, N. */
  readonly check_uncertainty_N: number;
}

export interface Run {
  readonly series: number;
  readonly loading: Check["loading"];
  readonly force_N: number;
  readonly indicated_force_N: number;
  readonly error_N: number;
  readonly error: number;
}

/** Levels from the lowest up; checks with nothing on are left out. */
export function levelsOf(checks: readonly Check[], counts_per_N: number): readonly Level[] {
  const groups: Check[][] = [];
  for (const check of checks.filter(({ force_N }) => force_N > 0).sort(byForce)) {
    const group = groups.at(-1);
    const lowest_N = group?.[0]?.force_N;
    if (group === undefined || lowest_N === undefined || check.force_N > lowest_N * (1 + SAME_LEVEL)) {
      groups.push([check]);
    } else group.push(check);
  }
  return groups.map((group) => levelOf(group.sort(byRun), counts_per_N));
}

/** Orders that depend on nothing but the checks, so that sums round the same however they came. */
const byForce = (a: Check, b: Check): number => a.force_N - b.force_N || byRun(a, b);
const byRun = (a: Check, b: Check): number =>
  a.series - b.series ||
  rank(a) - rank(b) ||
  a.force_N - b.force_N ||
  a.indicated_force_N - b.indicated_force_N ||
  a.mean_counts - b.mean_counts;
const rank = ({ loading }: Check): number => (loading === "increasing" ? 0 : 1);

function levelOf(group: readonly Check[], counts_per_N: number): Level {
  const runs = group.map(runOf);
  const up = runs.filter(({ loading }) => loading === "increasing").map(({ error }) => error);
  const masses = new Set(group.map(({ mass_kg }) => mass_kg));
  const [mass_kg = null] = masses;
  return {
    force_N: mean(group.map(({ force_N }) => force_N)),
    mass_kg: masses.size === 1 ? mass_kg : null,
    runs,
    mean_error: up.length === 0 ? null : mean(up),
    worst_error:
      up.length === 0 ? null : up.reduce((worst, error) => (Math.abs(error) > Math.abs(worst) ? error : worst)),
    repeatability: up.length < 2 ? null : Math.max(...up) - Math.min(...up),
    reversibility: reversibilityOf(runs),
    relative_tolerance: Math.max(...group.map(toleranceOf)),
    check_uncertainty_N: Math.max(...group.map((check) => uncertainty_N(check, counts_per_N))),
  };
}

function runOf({ series, loading, force_N, indicated_force_N }: Check): Run {
  const error_N = indicated_force_N - force_N;
  return { series, loading, force_N, indicated_force_N, error_N, error: error_N / force_N };
}

function reversibilityOf(runs: readonly Run[]): number | null {
  const errors = (series: number, loading: Run["loading"]): number[] =>
    runs.filter((run) => run.series === series && run.loading === loading).map(({ error }) => error);
  const differences = [...new Set(runs.map(({ series }) => series))].flatMap((series) => {
    const up = errors(series, "increasing");
    const down = errors(series, "decreasing");
    return up.length === 0 || down.length === 0 ? [] : [mean(down) - mean(up)];
  });
  return differences.length === 0 ? null : mean(differences);
}

/** A load that says nothing of itself is taken at its word. */
const toleranceOf = ({ applied }: Check): number => applied?.relative_tolerance ?? 0;

function uncertainty_N(check: Check, counts_per_N: number): number {
  const load = rectangular(toleranceOf(check)) * check.force_N;
  const gravity = check.mass_kg === null ? 0 : rectangular(GRAVITY_TOLERANCE) * check.force_N;
  return 2 * combined(load, gravity, check.standard_error_counts / counts_per_N);
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
