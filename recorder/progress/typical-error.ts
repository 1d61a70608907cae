/**
 * How much one day's result differs from the next though nothing has changed: the typical error of Hopkins 2000 (Sports
 * Medicine 30:1-15), the standard deviation of differences over the square root of two; for one person's repeats the same as
 * the standard error of measurement of Weir 2005 (Journal of Strength and Conditioning Research 19:231-240).
 *
 * In logarithms, so that it is a fraction of the result, and from the differences of neighbouring days less their mean, so that
 * somebody who gets steadily stronger is not taken for unsteady. Neighbouring differences share a day: their variance tells
 * as much as two thirds of as many independent ones would (for long rows 2(n-1)/3; a test holds it by simulation).
 */
import { studentT } from "./student-t.ts";

export interface TypicalError {
  /** Of one day, as a fraction of the result. */
  readonly typical_error: number;
  /** null: taken as known. */
  readonly degrees_of_freedom: number | null;
}

/** A day's result, and whether the step from the day before is one between equals. */
export interface Repeat {
  readonly value: number;
  readonly follows: boolean;
}

/** null: fewer than three steps, or nothing to compare. Values are positive. */
export function typicalErrorOf(repeats: readonly Repeat[]): TypicalError | null {
  const steps: number[] = [];
  for (const [index, { value, follows }] of repeats.entries()) {
    const before = repeats[index - 1];
    if (follows && before !== undefined) steps.push(Math.log(value / before.value));
  }
  if (steps.length < 3) return null;
  const mean = steps.reduce((sum, step) => sum + step, 0) / steps.length;
  const squares = steps.reduce((sum, step) => sum + (step - mean) ** 2, 0);
  // Less their mean, n differences of neighbours have the expected squares of n - 1, but for the ends of the row: the mean is
  // the row's first and last value alone, and takes with it only two error variances over n.
  const expected = 2 * steps.length - 2 / steps.length;
  return { typical_error: Math.sqrt(squares / expected), degrees_of_freedom: (2 * (steps.length - 1)) / 3 };
}

/**
 * What a difference between the means of so many days must exceed, 95 %, as a difference of logarithms. Of two single days and
 * a known error: 1.96 x sqrt 2 = 2.77 times the error (Weir 2005).
 */
export function detectableChange(error: TypicalError, from_days: number, to_days: number): number {
  const { typical_error, degrees_of_freedom } = error;
  return studentT(degrees_of_freedom, 0.95) * typical_error * Math.sqrt(1 / from_days + 1 / to_days);
}
