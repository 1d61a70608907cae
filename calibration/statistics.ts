/**
 * Mean, standard deviation and an honest standard error of a run of equally spaced readings.
 *
 * Two passes with the first pass's rounding taken back, because counts are large beside their noise and a sum of
 * squares loses the digits that matter. Neighbouring readings of a drifting sensor are alike, so s/sqrt(n) flatters:
 * the standard error counts how many independent readings there really were, after a first-order autoregression.
 */

export interface Summary {
  readonly readings: number;
  readonly mean: number;
  /** Standard deviation of one reading, n - 1. */
  readonly sd: number;
  /** Lag-1 autocorrelation coefficient, -1..1; 0 where all readings are equal. */
  readonly lag1_autocorrelation: number;
  /** Of the mean, corrected for autocorrelation; never below sd/sqrt(n). */
  readonly standard_error: number;
}

/** @throws RangeError for fewer than three values: they say nothing about their scatter. */
export function summarise(values: readonly number[]): Summary {
  const n = values.length;
  if (n < 3) throw new RangeError(`cannot summarise ${n} values, at least 3 are needed`);
  const mean = meanOf(values);
  let squares = 0;
  let neighbours = 0;
  let before = 0;
  for (const value of values) {
    const from_mean = value - mean;
    squares += from_mean * from_mean;
    neighbours += from_mean * before;
    before = from_mean;
  }
  const sd = Math.sqrt(squares / (n - 1));
  const lag1_autocorrelation = squares === 0 ? 0 : neighbours / squares;
  const standard_error = sd * standardErrorFactor(n, lag1_autocorrelation);
  return { readings: n, mean, sd, lag1_autocorrelation, standard_error };
}

function meanOf(values: readonly number[]): number {
  let sum = 0;
  for (const value of values) sum += value;
  const first = sum / values.length;
  let left_over = 0;
  for (const value of values) left_over += value - first;
  return first + left_over / values.length;
}

/**
 * Standard error over sample standard deviation for n readings of a first-order autoregression (textbook results, from
 * memory). The variance of the mean is s2 k/n with k = (1+p)/(1-p) - 2p(1-p^n)/(n(1-p)^2); the sample variance itself
 * falls short by (n-k)/(n-1). A sample's lag-1 coefficient lies low by about (1+3p)/n, which is added back.
 * Alternating readings (p < 0) would earn a smaller error; it is not claimed.
 */
function standardErrorFactor(n: number, lag1: number): number {
  const p = Math.min(Math.max(0, lag1 + (1 + 3 * lag1) / n), 1 - 1 / n);
  const k = (1 + p) / (1 - p) - (2 * p * (1 - p ** n)) / (n * (1 - p) ** 2);
  return Math.sqrt(((n - 1) / (n - k)) * (k / n));
}

/** How far a least-squares line through (x, y) climbs from the first x to the last; 0 where x does not change. */
export function fittedChange(x: readonly number[], y: readonly number[]): number {
  const from = x[0];
  const to = x.at(-1);
  if (from === undefined || to === undefined || y.length !== x.length) throw new RangeError("x and y must pair up");
  const x_mean = meanOf(x);
  const y_mean = meanOf(y);
  let xx = 0;
  let xy = 0;
  for (let i = 0; i < x.length; i += 1) {
    const dx = x[i]! - x_mean;
    xx += dx * dx;
    xy += dx * (y[i]! - y_mean);
  }
  return xx === 0 ? 0 : (xy / xx) * (to - from);
}
