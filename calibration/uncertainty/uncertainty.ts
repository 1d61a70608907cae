/**
 * Combining uncertainties as the Guide to the Expression of Uncertainty in Measurement does it (JCGM 100:2008): each
 * source as a standard uncertainty, independent ones added in squares, the sum expanded by k = 2.
 */
import type { BudgetLine } from "../record.ts";

export const COVERAGE = 2;

/** Standard uncertainty of something known only to lie within +-half_width. */
export function rectangular(half_width: number): number {
  return half_width / Math.sqrt(3);
}

/** Root sum of squares of independent standard uncertainties. */
export function combined(...standard: readonly number[]): number {
  return Math.hypot(...standard);
}

/** Expanded uncertainty (k = 2) of a budget, N. */
export function expanded_N(budget: readonly BudgetLine[]): number {
  return COVERAGE * combined(...budget.map((line) => line.standard_uncertainty_N));
}

/** The line that weighs most, the one worth working on; a budget has at least one. */
export function largest(budget: readonly BudgetLine[]): BudgetLine {
  return budget.reduce((most, line) => (line.standard_uncertainty_N > most.standard_uncertainty_N ? line : most));
}
