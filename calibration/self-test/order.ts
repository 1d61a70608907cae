/** Medians: what a few wild values cannot move. */

/** @throws RangeError for no values. */
export function medianOf(values: readonly number[]): number {
  if (values.length === 0) throw new RangeError("no median of nothing");
  const sorted = new Float64Array(values).sort();
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
