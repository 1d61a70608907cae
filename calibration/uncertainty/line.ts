/**
 * The straight line through two points with an uncertainty on each coordinate, and what each point contributes to the
 * uncertainty of a value read from the line (law of propagation, independent inputs). Such a line has no residual of
 * its own: it says nothing about whether the sensor is straight.
 */

export interface LinePoint {
  readonly x: number;
  readonly y: number;
  /** Standard uncertainties of the coordinates. */
  readonly u_x: number;
  readonly u_y: number;
}

export interface Line {
  readonly slope: number;
  readonly intercept: number;
}

export function lineThrough(a: LinePoint, b: LinePoint): Line {
  const slope = (b.y - a.y) / (b.x - a.x);
  return { slope, intercept: a.y - slope * a.x };
}

/** Standard uncertainty of the line's y at `x` that comes from point a and from point b, in units of y. */
export function pointShares(a: LinePoint, b: LinePoint, x: number): { readonly a: number; readonly b: number } {
  const { slope } = lineThrough(a, b);
  const along = (x - a.x) / (b.x - a.x);
  return {
    a: Math.abs(1 - along) * Math.hypot(a.u_y, slope * a.u_x),
    b: Math.abs(along) * Math.hypot(b.u_y, slope * b.u_x),
  };
}
