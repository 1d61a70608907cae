/**
 * How much of some readings a sine of a given frequency explains, by least squares at the very times of the readings.
 *
 * Uneven times are no trouble, and a frequency above half the rate is fitted as it is: its alias comes by itself. At exactly half
 * the rate only one phase can be seen; the fit then gives what is seen.
 */

/** Readings without wild ones, mean and slope. */
export interface Residuals {
  readonly at_s: readonly number[];
  readonly counts: readonly number[];
  readonly duration_s: number;
  /** Usual readings a second: what frequencies fold at. */
  readonly rate_Hz: number;
}

export interface Frequencies {
  readonly from_Hz: number;
  readonly step_Hz: number;
  readonly steps: number;
}

/**
 * Sum of squares explained at each of `steps` frequencies from `from_Hz` on, `step_Hz` apart, in the unit of the values squared.
 * The values should have no mean and no slope left.
 */
export function explainedSquares(
  at_s: readonly number[],
  values: readonly number[],
  { from_Hz, step_Hz, steps }: Frequencies,
): readonly number[] {
  // Sine and cosine once a reading; each next frequency turns them on by the step. Two million of them cost too much.
  const cos = Float64Array.from(at_s, (at) => Math.cos(2 * Math.PI * from_Hz * at));
  const sin = Float64Array.from(at_s, (at) => Math.sin(2 * Math.PI * from_Hz * at));
  const turn_cos = Float64Array.from(at_s, (at) => Math.cos(2 * Math.PI * step_Hz * at));
  const turn_sin = Float64Array.from(at_s, (at) => Math.sin(2 * Math.PI * step_Hz * at));
  const x = Float64Array.from(values);
  return Array.from({ length: steps }, () => {
    let cc = 0;
    let cs = 0;
    let xc = 0;
    let xs = 0;
    for (let i = 0; i < x.length; i += 1) {
      const c = cos[i]!;
      const s = sin[i]!;
      cc += c * c;
      cs += c * s;
      xc += x[i]! * c;
      xs += x[i]! * s;
      cos[i] = c * turn_cos[i]! - s * turn_sin[i]!;
      sin[i] = s * turn_cos[i]! + c * turn_sin[i]!;
    }
    return solved(cc, cs, x.length - cc, xc, xs);
  });
}

/** The explained squares from the normal equations of both phases. */
function solved(cc: number, cs: number, ss: number, xc: number, xs: number): number {
  const determinant = cc * ss - cs * cs;
  const trace = cc + ss;
  if (determinant < 1e-3 * trace * trace) return (xc * xc + xs * xs) / trace;
  return (ss * xc * xc - 2 * cs * xc * xs + cc * xs * xs) / determinant;
}

/** The frequency among those tried that explains most. */
export function strongestOf(
  { at_s, counts }: Pick<Residuals, "at_s" | "counts">,
  frequencies: Frequencies,
): { readonly frequency_Hz: number; readonly squares: number } {
  const { from_Hz, step_Hz } = frequencies;
  return explainedSquares(at_s, counts, frequencies)
    .map((squares, index) => ({ frequency_Hz: from_Hz + index * step_Hz, squares }))
    .reduce((best, each) => (each.squares > best.squares ? each : best));
}

/** Amplitude of a sine that explains so much of `readings` readings. */
export function amplitudeOf(squares: number, readings: number): number {
  return Math.sqrt((2 * Math.max(0, squares)) / readings);
}

/** A line stands for as long as somebody looks, and the mains wander in a longer time: no more than this is fitted. */
const LONGEST_S = 20;

/** @param rate_Hz usual readings a second. */
export function residualsOf(at_s: readonly number[], counts: readonly number[], rate_Hz: number): Residuals {
  const until = at_s.findIndex((at) => at - at_s[0]! > LONGEST_S);
  const used_s = until === -1 ? at_s : at_s.slice(0, until);
  const left = detrended(used_s, until === -1 ? counts : counts.slice(0, until));
  return { at_s: used_s, counts: left, duration_s: used_s.at(-1)! - used_s[0]!, rate_Hz };
}

/** What is left of values when their mean and slope over time are taken away. */
export function detrended(at_s: readonly number[], values: readonly number[]): readonly number[] {
  const { slope, mean, middle_s } = lineThrough(at_s, values);
  return values.map((value, index) => value - mean - slope * (at_s[index]! - middle_s));
}

/** The least-squares line. Slope in units a second; 0 where the times do not differ. */
export function lineThrough(
  at_s: readonly number[],
  values: readonly number[],
): { readonly slope: number; readonly mean: number; readonly middle_s: number } {
  const first = values[0] ?? 0;
  const n = Math.max(1, values.length);
  const middle_s = at_s.reduce((sum, at) => sum + at, 0) / n;
  const mean = first + values.reduce((sum, value) => sum + (value - first), 0) / n;
  let tt = 0;
  let tx = 0;
  for (let i = 0; i < values.length; i += 1) {
    const t = at_s[i]! - middle_s;
    tt += t * t;
    tx += t * (values[i]! - mean);
  }
  return { slope: tt === 0 ? 0 : tx / tt, mean, middle_s };
}
