/**
 * Student's t, two-sided, by degrees of freedom, which need not be whole. Values of the common tables; between them its
 * logarithm is linear in one over the degrees of freedom, which a test holds to a thousandth of the exact ones from four degrees
 * on, the fewest that count, and to three thousandths from three.
 */

/** Two-sided confidence. */
export type Confidence = 0.95 | 0.99;

const DEGREES = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30, 50, 100, Number.POSITIVE_INFINITY] as const;
const TABLE: Readonly<Record<Confidence, readonly number[]>> = {
  0.95: [
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.179, 2.131, 2.086, 2.042, 2.009, 1.984,
    1.96,
  ],
  0.99: [
    63.657, 9.925, 5.841, 4.604, 4.032, 3.707, 3.499, 3.355, 3.25, 3.169, 3.055, 2.947, 2.845, 2.75, 2.678, 2.626,
    2.576,
  ],
};

/** `degrees_of_freedom` null: the error is known. @throws RangeError below one degree of freedom. */
export function studentT(degrees_of_freedom: number | null, confidence: Confidence): number {
  const degrees = degrees_of_freedom ?? Number.POSITIVE_INFINITY;
  const values = TABLE[confidence];
  const above = DEGREES.findIndex((known) => known >= degrees);
  const to = values[above];
  if (!(degrees >= 1) || to === undefined) throw new RangeError(`no Student's t for ${degrees} degrees of freedom`);
  if (above === 0 || DEGREES[above] === degrees) return to;
  const from = values[above - 1] as number;
  const low = 1 / (DEGREES[above - 1] as number);
  const high = 1 / (DEGREES[above] as number);
  return from * (to / from) ** ((low - 1 / degrees) / (low - high));
}
