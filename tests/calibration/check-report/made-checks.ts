/** Checks as a technician's visit leaves them, made up from true and indicated forces. */
import type { Claim } from "../../../calibration/check-report/verdict.ts";
import type { Check } from "../../../calibration/record.ts";

export const COUNTS_PER_N = 100;

/** A record of a 5000 N cell that works at 2000 N and claims 0.5 % there, all of it in proportion. */
export const CLAIM: Claim = {
  expanded_uncertainty_N: 10,
  working_force_N: 2000,
  cell_capacity_N: 5000,
  counts_per_N: COUNTS_PER_N,
  budget: [{ source: "load tolerance", standard_uncertainty_N: 5 }],
};

/** One count of noise, so that resolution holds nothing back unless a test wants it to. */
export function check(force_N: number, indicated_force_N: number, more: Partial<Check> = {}): Check {
  return {
    force_N,
    mass_kg: null,
    mean_counts: 50_000 + indicated_force_N * COUNTS_PER_N,
    standard_error_counts: 0.2,
    noise_counts: 1,
    readings: 240,
    ...(force_N === 0 ? {} : { applied: { at: "cell", lever_angle_deg: null, relative_tolerance: 0.001 } }),
    when: "as-found",
    loading: "increasing",
    series: 1,
    indicated_force_N,
    relative_error: force_N === 0 ? null : (indicated_force_N - force_N) / force_N,
    ...more,
  };
}

/** Series from the errors in percent at each level, one array a series, increasing. */
export const upSeries = (levels_N: readonly number[], errors_percent: readonly (readonly number[])[]): Check[] =>
  errors_percent.flatMap((errors, index) =>
    levels_N.map((force_N, level) => check(force_N, force_N * (1 + (errors[level] ?? 0) / 100), { series: index + 1 })),
  );
