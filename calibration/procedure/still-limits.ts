/** How still the sensor of a station must be for a point, in counts: by the scale in force, or for want of one by its range. */

import { stillLimit_counts } from "../uncertainty/two-point.ts";
import type { ProcedureFacts } from "./procedure-state.ts";
import { DWELL_US, type StillLimits, WINDOW_US } from "./still-window.ts";

const AMPLIFIER_RANGE_COUNTS = 2 ** 23;

/** What the cell's capacity is taken to read. Without a scale the whole range stands in; a pair is judged in newtons once it has one. */
export function rangeOf_counts({ in_force, cell_capacity_N }: ProcedureFacts): number {
  return in_force === null ? AMPLIFIER_RANGE_COUNTS : cell_capacity_N * Math.abs(in_force.counts_per_N);
}

export function limitsOf(facts: ProcedureFacts): StillLimits {
  const { dwell_us = DWELL_US, window_us = WINDOW_US, in_force, cell_capacity_N } = facts;
  const moving_counts = stillLimit_counts(cell_capacity_N, rangeOf_counts(facts) / cell_capacity_N);
  return { dwell_us, window_us, moving_counts, counts_per_N: in_force?.counts_per_N ?? null };
}
