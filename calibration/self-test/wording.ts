/** Numbers as a technician reads them: three digits that matter, counts always, newtons where there is a scale. */

/** `38.7`, `1240`, `0.0021`: three significant digits and no more than four decimals; whole numbers keep all of theirs. */
export function digits(value: number): string {
  const size = Math.abs(value);
  if (size >= 100 || Number.isInteger(value)) return Math.round(value).toString();
  return Number(value.toFixed(Math.min(4, 2 - Math.floor(Math.log10(size))))).toString();
}

/** `38.7 counts (0.018 N)`, or `38.7 counts` where there is no scale. */
export function amount(counts: number, counts_per_N: number | null): string {
  return `${inCounts(counts)}${inForce(counts, counts_per_N)}`;
}

/** ` (0.018 N)`, or nothing where there is no scale. */
export function inForce(counts: number, counts_per_N: number | null): string {
  return counts_per_N === null ? "" : ` (${digits(Math.abs(counts / counts_per_N))} N)`;
}

export const inCounts = (counts: number): string => `${digits(counts)} ${digits(counts) === "1" ? "count" : "counts"}`;

/** Counts as newtons without a sign; null where there is no scale. */
export const newtons = (counts: number, counts_per_N: number | null): number | null =>
  counts_per_N === null ? null : Math.abs(counts / counts_per_N);

/** `1 reading`, `3 readings`. */
export const several = (number: number, one: string): string => `${number} ${number === 1 ? one : `${one}s`}`;

/** A share as whole percent, or two digits where it is less. */
export function percent(share: number): string {
  return `${Math.abs(share) >= 0.1 ? Math.round(100 * share) : Number((100 * share).toPrecision(2))} %`;
}
