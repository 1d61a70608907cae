/**
 * One capture of a calibration point: wait for the load to settle (dwell), then take a still window and say what it
 * read, or that it was not still and what moved.
 *
 * Device time in us and median-filtered counts; any rate from 8 readings a second up, and as fast as readings come. A
 * gap restarts the capture, dwell included, because nobody knows what happened in it.
 */
import type { Refusal } from "../../protocol/vocabulary.ts";
import { type Refused, refusal, shown } from "../outcome.ts";
import { isSaturated } from "../scale.ts";
import { fittedChange, summarise } from "../statistics.ts";

/** Loading and stabilising time of a cell up to 100 kg, OIML R 60-2; the window is this project's choice. */
export const DWELL_US = 20_000_000;
export const WINDOW_US = 3_000_000;
const GAP_US = 300_000;
/** A capture that never gets through is told so after this many times its own length. */
const PATIENCE = 5;

export interface StillLimits {
  readonly dwell_us: number;
  readonly window_us: number;
  /** Largest fitted change over the window, and largest standard deviation in it, counts. */
  readonly moving_counts: number;
  /** For sentences: counts in a newton of the record in force, or null when there is none. */
  readonly counts_per_N: number | null;
}

export interface StillPoint {
  readonly mean_counts: number;
  /** Of the mean, corrected for autocorrelation. */
  readonly standard_error_counts: number;
  /** Standard deviation of one reading. */
  readonly noise_counts: number;
  /** Change across the window along a fitted line. */
  readonly trend_counts: number;
  readonly readings: number;
}

export interface StillWindow {
  readonly asked_at_us: number | null;
  readonly from_us: number;
  readonly last_us: number;
  /** Newest reading of the window so far; null during the dwell. */
  readonly newest: Taken | null;
}

/** A list from the newest back, so that a reading adds to it without a copy of all before. */
interface Taken {
  readonly at_us: number;
  readonly counts: number;
  readonly before: Taken | null;
}

export type StillResult = { readonly ok: true; readonly point: StillPoint } | Refused;

export interface StillStep {
  readonly state: StillWindow;
  /** null: not complete yet. */
  readonly result: StillResult | null;
}

export const CAPTURE_BEGUN: StillWindow = { asked_at_us: null, from_us: 0, last_us: 0, newest: null };

export function stepStillWindow(state: StillWindow, at_us: number, counts: number, limits: StillLimits): StillStep {
  const { asked_at_us, last_us } = state;
  if (asked_at_us === null || at_us < last_us || at_us - last_us > GAP_US) {
    const first_us = asked_at_us === null || at_us < last_us ? at_us : asked_at_us;
    const restarted = { asked_at_us: first_us, from_us: at_us, last_us: at_us, newest: null };
    return { state: restarted, result: exhausted(at_us - first_us, limits) };
  }
  const elapsed_us = at_us - state.from_us;
  if (elapsed_us < limits.dwell_us) return { state: { ...state, last_us: at_us }, result: null };
  const next: StillWindow = {
    ...state,
    last_us: at_us,
    newest: { at_us, counts, before: state.newest },
  };
  return { state: next, result: elapsed_us < limits.dwell_us + limits.window_us ? null : judge(next.newest, limits) };
}

function exhausted(waited_us: number, limits: StillLimits): Refused | null {
  if (waited_us < PATIENCE * (limits.dwell_us + limits.window_us)) return null;
  return refusal(
    "sensor-fault",
    `The readings broke off again and again for ${shown(waited_us / 1e6)} s: no window was complete.`,
    "Check the sensor's cable and plug, then take the point again.",
  );
}

function judge(newest: Taken | null, limits: StillLimits): StillResult {
  const at_us: number[] = [];
  const counts: number[] = [];
  for (let taken = newest; taken !== null; taken = taken.before) {
    at_us.push(taken.at_us);
    counts.push(taken.counts);
  }
  at_us.reverse();
  counts.reverse();
  const saturated = counts.filter(isSaturated).length;
  if (saturated > 0) {
    return refusal(
      "sensor-fault",
      `The amplifier was at the end of its range in ${saturated} of ${counts.length} readings.`,
      "Check the wiring and the load; gain 64 doubles the range.",
    );
  }
  const { mean, sd, standard_error, readings } = summarise(counts);
  const trend_counts = fittedChange(at_us, counts);
  const error = unrest(trend_counts, sd, limits.moving_counts, limits.window_us, limits.counts_per_N);
  if (error !== null) return { ok: false, error };
  return {
    ok: true,
    point: {
      mean_counts: mean,
      standard_error_counts: standard_error,
      noise_counts: sd,
      trend_counts,
      readings,
    },
  };
}

/** Why a window was not still, in one sentence; null where it was. Limits in counts, said in newtons too where known. */
export function unrest(
  trend_counts: number,
  sd_counts: number,
  limit_counts: number,
  window_us: number,
  counts_per_N: number | null,
): Refusal | null {
  const said = (counts: number): string => {
    const whole = `${Math.abs(Math.round(counts))} counts`;
    return counts_per_N === null ? whole : `${whole} (${shown(Math.abs(counts / counts_per_N))} N)`;
  };
  const would_do = `at most ${said(limit_counts)} would do`;
  if (Math.abs(trend_counts) > limit_counts) {
    return {
      code: "not-still",
      message: `The reading drifted by ${said(trend_counts)} in ${shown(window_us / 1e6)} s; ${would_do}.`,
      hint: "Wait until nothing creeps or settles any more, then take the point again.",
    };
  }
  if (sd_counts > limit_counts) {
    return {
      code: "not-still",
      message: `The reading swung or was noisy, by a standard deviation of ${said(sd_counts)}; ${would_do}.`,
      hint: "Let the load hang quiet, touch nothing, switch motors off, then take the point again.",
    };
  }
  return null;
}
