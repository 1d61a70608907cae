/**
 * How many readings a second really arrive, from device time: boards set to 80 have been seen to give 10 or 94.
 * Lost readings lower it, as they should. A pause of more than a second is silence, not a rate: it starts afresh.
 */

/** Long enough that a jitter of a fifth of a period moves the result of 8 readings a second by about 1 %. */
const WINDOW_US = 2_000_000;
const SILENCE_US = 1_000_000;

export interface ReadingRate {
  readonly since_us: number;
  readonly last_us: number;
  readonly intervals: number;
  /** Of the last whole window; null: not known yet. */
  readonly rate_Hz: number | null;
}

export const RATE_UNKNOWN: ReadingRate = { since_us: 0, last_us: Number.NaN, intervals: 0, rate_Hz: null };

/** One reading at `at_us` of device time. Time that steps back (a new epoch) starts afresh as well. */
export function stepReadingRate(state: ReadingRate, at_us: number): ReadingRate {
  const gap_us = at_us - state.last_us;
  if (!(gap_us >= 0 && gap_us <= SILENCE_US)) {
    return { since_us: at_us, last_us: at_us, intervals: 0, rate_Hz: null };
  }
  const intervals = state.intervals + 1;
  const elapsed_us = at_us - state.since_us;
  if (elapsed_us < WINDOW_US) return { since_us: state.since_us, last_us: at_us, intervals, rate_Hz: state.rate_Hz };
  return { since_us: at_us, last_us: at_us, intervals: 0, rate_Hz: (intervals * 1e6) / elapsed_us };
}
