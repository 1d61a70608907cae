/**
 * Overlapping Allan deviation: how far two means over neighbouring stretches of the same length tau lie apart, for each length.
 *
 * Where readings are independent it falls as 1/sqrt(tau), and averaging helps. Where it stays level or rises, the value itself
 * wanders, and a longer mean is no better. After NIST SP 1065 (Riley, 2008): the readings take the place of its frequency data.
 */

export interface Deviation {
  /** Readings in one mean. */
  readonly readings: number;
  readonly tau_s: number;
  readonly deviation: number;
  /** Standard error as a fraction: 1/sqrt(2 (stretches - 1)), rough and from memory; overlapping does a little better. */
  readonly relative_error: number;
}

/**
 * Of means over `readings` readings, evenly spaced; in the unit of the values.
 * @throws RangeError where there are not two such means.
 */
export function overlappingDeviation(values: readonly number[], readings: number): number {
  const sums = runningSums(values);
  const terms = values.length - 2 * readings + 1;
  if (!(readings >= 1 && terms >= 1))
    throw new RangeError(`${values.length} values are too few for means of ${readings}`);
  let squares = 0;
  for (let at = 0; at < terms; at += 1) {
    const step = (sums[at + 2 * readings]! - 2 * sums[at + readings]! + sums[at]!) / readings;
    squares += step * step;
  }
  return Math.sqrt(squares / (2 * terms));
}

/** From the first value, so that sums of large counts keep the digits that matter. */
function runningSums(values: readonly number[]): Float64Array {
  const sums = new Float64Array(values.length + 1);
  const first = values[0] ?? 0;
  for (let at = 0; at < values.length; at += 1) sums[at + 1] = sums[at]! + (values[at]! - first);
  return sums;
}

/** For lengths 1, 2, 5, 10, 20 ... readings, up to a quarter of all: beyond it too few stretches are left to say anything. */
export function deviations(values: readonly number[], interval_s: number): readonly Deviation[] {
  const most = Math.floor(values.length / 4);
  const lengths = [1, 10, 100, 1000, 10_000].flatMap((decade) => [decade, 2 * decade, 5 * decade]);
  return [...lengths.filter((length) => length < most), most]
    .filter((length) => length >= 1)
    .map((readings) => deviationAt(values, readings, interval_s));
}

export function deviationAt(values: readonly number[], readings: number, interval_s: number): Deviation {
  return {
    readings,
    tau_s: readings * interval_s,
    deviation: overlappingDeviation(values, readings),
    relative_error: 1 / Math.sqrt(2 * Math.max(1, values.length / readings - 1)),
  };
}
