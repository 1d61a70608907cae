/**
 * How strong a running effort is, and whether its peak is behind. Peaks and valleys are looked for in the level: the mean
 * of the last 0.2 s, which a jerk cannot lift.
 */
import { EFFORT_SMOOTHING_S, PEAKS_APART_S, SPENT_SHARE, STEADY_SPREAD } from "./setup.ts";
import { integralsAt, recent, type Trail } from "./trail.ts";

interface Dip {
  readonly level_N: number;
  /** Highest level since the lowest one. */
  readonly since_N: number;
  readonly low_N: number;
  readonly low_us: number;
  readonly low_impulse_N_s: number;
}

/** What is known of an effort's strength so far; levels in N, 0 while there is none. */
export interface Peak {
  /** Highest level, and when: the middle of its window. */
  readonly top_N: number;
  readonly top_us: number;
  /** Highest level whose window was steady. */
  readonly steady_N: number;
  /** Highest level where no window was steady: a quick repetition. */
  readonly quick_N: number;
  readonly dip: Dip | null;
  /** Behind: nothing that follows in this effort can be higher. */
  readonly certain: boolean;
}

/** Moments are whole us, so windows are too: in seconds they would make every moment a fraction. */
const SMOOTHING_US = EFFORT_SMOOTHING_S * 1e6;
export const HALF_SMOOTHING_US = SMOOTHING_US / 2;

export const NO_PEAK: Peak = { top_N: 0, top_us: 0, steady_N: 0, quick_N: 0, dip: null, certain: false };

export const eligiblePeak = (peak: Peak): number => (peak.steady_N > 0 ? peak.steady_N : peak.quick_N);

interface Level {
  readonly force_N: number;
  readonly steady: boolean;
  /** Lowest reading of its window. */
  readonly low_N: number;
}

/**
 * The level: mean of the last 0.2 s of this effort; null until it has lasted so long. Where the window's spread is
 * above 15 % of its mean it stands for no level anybody held, and counts at no more than 1.15 times its lowest
 * reading: a jerk cannot lift it, and a repetition too quick to hold a steady window still has a strength.
 */
export function levelOf(trail: Trail, start_us: number): Level | null {
  const { at_us } = trail.newest;
  if (at_us - SMOOTHING_US < start_us) return null;
  const { mean_N, low_N, high_N } = recent(trail, EFFORT_SMOOTHING_S);
  if (mean_N === null) return null;
  if (high_N - low_N <= STEADY_SPREAD * mean_N) return { force_N: mean_N, steady: true, low_N };
  return { force_N: Math.max(0, Math.min(mean_N, (1 + STEADY_SPREAD) * low_N)), steady: false, low_N };
}

/**
 * Takes a level into the effort's peak and dip; the same object where nothing changed. `splits`: the effort would be cut
 * at its valley, so that its peak is certain once it is behind. A known muscle action bounds its effort by itself: a
 * second bump inside it is the same effort, and may be the higher, until the force is spent.
 */
export function follow(
  peak: Peak,
  trail: Trail,
  level: Level,
  eligible: boolean,
  prominence_N: number,
  splits: boolean,
): Peak {
  const level_N = level.force_N;
  const middle_us = trail.newest.at_us - HALF_SMOOTHING_US;
  const steady_N = eligible && level.steady && level_N > peak.steady_N ? level_N : peak.steady_N;
  const quick_N = eligible && level_N > peak.quick_N ? level_N : peak.quick_N;
  // What was caught before it may count is no top to fall from.
  const first = eligible && peak.quick_N === 0;
  if (first || level_N > peak.top_N)
    return { top_N: level_N, top_us: middle_us, steady_N, quick_N, dip: null, certain: false };
  let { dip } = peak;
  if (dip === null ? level_N < peak.top_N - prominence_N : level_N < dip.level_N) {
    const low = integralsAt(trail, middle_us);
    dip = {
      level_N,
      since_N: level_N,
      low_N: level.low_N,
      low_us: middle_us,
      low_impulse_N_s: low === null ? trail.newest.impulse_N_s : low.impulse_N_s,
    };
  } else if (dip !== null && level_N > dip.since_N) {
    const { low_N, low_us, low_impulse_N_s } = dip;
    dip = { level_N: dip.level_N, since_N: level_N, low_N, low_us, low_impulse_N_s };
  }
  const behind = splits ? dip !== null : level_N < SPENT_SHARE * peak.top_N;
  const certain = peak.certain || (behind && middle_us - peak.top_us >= PEAKS_APART_S * 1e6);
  if (steady_N === peak.steady_N && quick_N === peak.quick_N && dip === peak.dip && certain === peak.certain)
    return peak;
  return { top_N: peak.top_N, top_us: peak.top_us, steady_N, quick_N, dip, certain };
}
