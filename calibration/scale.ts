/**
 * Counts to newtons. One formula, no clamping: a negative `counts_per_N` (wires reversed) needs nothing special.
 * Counts are signed 24-bit; the two ends of that range mean that the amplifier is saturated and are never a force.
 */

export const SATURATED_HIGH_COUNTS = 8_388_607;
export const SATURATED_LOW_COUNTS = -8_388_608;

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
