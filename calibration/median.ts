/** The middle one of three values: a single wild reading among three is gone, a step passes without overshoot. */
export function median3(a: number, b: number, c: number): number {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
}
