/** Something that swings on the sensor, or shakes it: one strong slow line among the readings. */
import type { Found } from "./finding.ts";
import { medianOf } from "./order.ts";
import { amplitudeOf, explainedSquares, type Residuals } from "./sine-fit.ts";
import { amount, digits, inCounts, inForce, newtons } from "./wording.ts";
import type { Yardstick } from "./yardstick.ts";

const SLOWEST_HZ = 0.3;
const FASTEST_HZ = 8;
/** Fewer periods than this in the sample are drift as well as swing. */
const LEAST_PERIODS = 3;
/** The line must explain half of all scatter, and stand out from the slow lines beside it. */
const STRONG_SHARE = 0.5;
const STANDS_OUT = 30;
/** Half the band in which a sensor counts as still, in divisions. */
const UNSETTLING_DIVISIONS = 2;
const SMALL_DIVISIONS = 0.05;

/**
 * @param taken_Hz where the mains show, which is not a swing; null: nowhere.
 * @returns null where the sample is too short or too coarse to tell.
 */
export function examineSwing(residuals: Residuals, taken_Hz: number | null, yardstick: Yardstick): Found | null {
  const { at_s, counts, duration_s, rate_Hz } = residuals;
  const { counts_per_N, d_counts } = yardstick;
  const from_Hz = Math.max(SLOWEST_HZ, LEAST_PERIODS / duration_s);
  const to_Hz = Math.min(FASTEST_HZ, 0.45 * rate_Hz);
  const step_Hz = 1 / (2 * duration_s);
  const steps = Math.floor((to_Hz - from_Hz) / step_Hz) + 1;
  if (!(steps >= 4)) return null;
  const squares = explainedSquares(at_s, counts, { from_Hz, step_Hz, steps });
  const best = squares.reduce((most, each, index) => (each > squares[most]! ? index : most), 0);
  const frequency_Hz = from_Hz + best * step_Hz;
  const all = counts.reduce((sum, value) => sum + value * value, 0);
  const share = all === 0 ? 0 : squares[best]! / all;
  const amplitude_counts = amplitudeOf(squares[best]!, counts.length);
  const values = {
    amplitude_counts,
    amplitude_N: newtons(amplitude_counts, counts_per_N),
    frequency_Hz,
    share,
  };
  const swings =
    share >= STRONG_SHARE &&
    squares[best]! > (STANDS_OUT * medianOf(squares)) / Math.LN2 &&
    amplitude_counts > SMALL_DIVISIONS * d_counts &&
    (taken_Hz === null || Math.abs(taken_Hz - frequency_Hz) > 2 / duration_s);
  if (!swings) {
    return {
      level: "good",
      what: `Nothing swings: no line between ${digits(from_Hz)} and ${digits(to_Hz)} Hz stands out, the strongest being ${amount(amplitude_counts, counts_per_N)}.`,
      do: null,
      values,
    };
  }
  const unsettling = amplitude_counts >= UNSETTLING_DIVISIONS * d_counts;
  return {
    level: unsettling ? "fault" : "notice",
    what: `Something swings ${digits(frequency_Hz)} times a second, ${inCounts(amplitude_counts)} either way${inForce(amplitude_counts, counts_per_N)}: ${unsettling ? "it will not count as still" : "noise and drift are partly its"}.`,
    do: "Hold what hangs from the cell until it is quiet, switch off what shakes the frame (a fan, a motor), and test again.",
    values,
  };
}
