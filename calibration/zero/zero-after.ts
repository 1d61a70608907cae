/**
 * How far the unloaded sensor stood from the zero that something was measured with, once that was over: the zero's drift
 * meanwhile, creep of the cell included. It tells what the measured forces may be off by, and mends none of them.
 *
 * Reckoned from counts against that zero, so tracking or an asked zero in between changes nothing. From 10 s after the end
 * on, the first 10 s without a movement whose mean lies within 10 d count; what stands further off has something on it, or
 * has stepped, and nothing can be said yet. Not later than 10 minutes after the end: by then the sensor has a drift of its
 * own. Over as well when the station is in use again. Device time in us, one call a reading, of one epoch.
 */
import { division_N } from "../scale.ts";
import type { ZeroReading } from "./zero-shift.ts";

const HOLD_OFF_US = 10_000_000;
const WINDOW_US = 10_000_000;
const LATEST_US = 600_000_000;
const NEAR_DIVISIONS = 10;
const GAP_US = 300_000;

/** What it was measured with. */
export interface MeasuredWith {
  readonly zero_counts: number;
  readonly counts_per_N: number;
  readonly capacity_N: number;
}

export interface ZeroAfter {
  /** Of what: an id for whoever asks. */
  readonly of: string;
  readonly ended_at_us: number;
  readonly last_us: number;
  readonly with: MeasuredWith;
  /** NaN: not still now. */
  readonly window_since_us: number;
  readonly sum_counts: number;
  readonly readings: number;
}

/** N, positive where the unloaded sensor now shows a force. Not rounded. */
export interface ZeroFound {
  readonly of: string;
  readonly zero_shift_N: number;
}

export interface ZeroAfterStep {
  /** null: over. */
  readonly watch: ZeroAfter | null;
  readonly found: ZeroFound | null;
}

export function watchZeroAfter(of: string, ended_at_us: number, measured: MeasuredWith): ZeroAfter {
  const window = { window_since_us: Number.NaN, sum_counts: 0, readings: 0 };
  return { of, ended_at_us, last_us: ended_at_us, with: measured, ...window };
}

const OVER: ZeroAfterStep = { watch: null, found: null };

export function stepZeroAfter(watch: ZeroAfter, reading: ZeroReading): ZeroAfterStep {
  const { at_us, counts, idle, still } = reading;
  const after_us = at_us - watch.ended_at_us;
  if (!idle || after_us > LATEST_US) return OVER;
  const continues = at_us - watch.last_us <= GAP_US;
  if (!still || !continues || after_us < HOLD_OFF_US) return waiting(watch, at_us, Number.NaN, 0, 0);
  const { window_since_us } = watch;
  if (Number.isNaN(window_since_us)) return waiting(watch, at_us, at_us, counts, 1);
  const sum_counts = watch.sum_counts + counts;
  const readings = watch.readings + 1;
  if (at_us - window_since_us < WINDOW_US) return waiting(watch, at_us, window_since_us, sum_counts, readings);
  const { zero_counts, counts_per_N, capacity_N } = watch.with;
  const zero_shift_N = (sum_counts / readings - zero_counts) / counts_per_N;
  if (Math.abs(zero_shift_N) > NEAR_DIVISIONS * division_N(capacity_N)) return waiting(watch, at_us, Number.NaN, 0, 0);
  return { watch: null, found: { of: watch.of, zero_shift_N } };
}

function waiting(
  watch: ZeroAfter,
  last_us: number,
  window_since_us: number,
  sum_counts: number,
  readings: number,
): ZeroAfterStep {
  const { of, ended_at_us, with: measured } = watch;
  return { watch: { of, ended_at_us, last_us, with: measured, window_since_us, sum_counts, readings }, found: null };
}
