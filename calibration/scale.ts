/**
 * Counts to newtons. One formula, no clamping: a negative `counts_per_N` (wires reversed) needs nothing special.
 */
import { SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS } from "../protocol/units.ts";

/** Force in N, positive against the machine, from counts and the zero in use. Rounded nowhere. */
export function forceOf(counts: number, zero_counts: number, counts_per_N: number): number {
  return (counts - zero_counts) / counts_per_N;
}

export function isSaturated(counts: number): boolean {
  return counts >= SATURATED_HIGH_COUNTS || counts <= SATURATED_LOW_COUNTS;
}

/** Steps a cell's capacity is divided into for limits of zero and stillness, as a weighing instrument's scale would be. */
const DIVISIONS = 5000;

/** One division d of a cell, N. */
export function division_N(capacity_N: number): number {
  return capacity_N / DIVISIONS;
}
