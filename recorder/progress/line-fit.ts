/** A least-squares line, and what it says of a point beyond it. */

export interface Line {
  readonly points: number;
  readonly slope: number;
  readonly intercept: number;
  readonly x_mean: number;
  readonly x_squares: number;
}

/** Through points whose x are not all alike; one whose x are, or that is alone, is a level line. @throws RangeError for none. */
export function lineThrough(x: readonly number[], y: readonly number[]): Line {
  const points = x.length;
  if (points === 0 || y.length !== points) throw new RangeError("a line needs points, each with x and y");
  const x_mean = x.reduce((sum, value) => sum + value, 0) / points;
  const y_mean = y.reduce((sum, value) => sum + value, 0) / points;
  let x_squares = 0;
  let products = 0;
  for (const [index, value] of x.entries()) {
    x_squares += (value - x_mean) ** 2;
    products += (value - x_mean) * ((y[index] as number) - y_mean);
  }
  const slope = x_squares === 0 ? 0 : products / x_squares;
  return { points, slope, intercept: y_mean - slope * x_mean, x_mean, x_squares };
}

/** The same without a slope: the mean. */
export function levelThrough(y: readonly number[]): Line {
  return lineThrough(
    y.map(() => 0),
    y,
  );
}

export const onLine = ({ slope, intercept }: Line, x: number): number => intercept + slope * x;

/** Standard error of a new point at x about the line, in errors of one point. */
export function predictionError({ points, x_mean, x_squares }: Line, x: number): number {
  return Math.sqrt(1 + 1 / points + (x_squares === 0 ? 0 : (x - x_mean) ** 2 / x_squares));
}
