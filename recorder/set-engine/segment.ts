/**
 * Cuts force into efforts: where one begins, peaks and ends. Knows nothing of best, floor or style.
 *
 * An effort begins by crossing the onset and ends at the release; where the trainee never lets go, at the valley
 * between two peaks; where the muscle action is known, at its change.
 */
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import type { Levels } from "./levels.ts";
import { eligiblePeak, follow, HALF_SMOOTHING_US, levelOf, NO_PEAK, type Peak } from "./peak.ts";
import {
  BLIND_S,
  EFFORT_SMOOTHING_S,
  PEAKS_APART_S,
  PROMINENCE_NOISES,
  PROMINENCE_SHARE,
  type SetSetup,
} from "./setup.ts";
import { integralsAt, type Trail } from "./trail.ts";

/** A judgement already passed on an effort that is still running. */
export interface Verdict {
  readonly below: boolean;
  readonly floor_N: number;
}

export interface Running {
  readonly start_us: number;
  readonly start_impulse_N_s: number;
  readonly muscle_action: MuscleAction | null;
  /** Lowest force between the effort before and this one; null for the first. */
  readonly valley_N: number | null;
  readonly peak: Peak;
  readonly verdict: Verdict | null;
  /** It began where another muscle action ended, not at the onset. */
  readonly took_over: boolean;
}

/** A stretch of force cut out as one effort. */
export interface Closed {
  readonly start_us: number;
  readonly end_us: number;
  readonly peak_us: number;
  readonly peak_N: number;
  /** false: all it has is the start of an eccentric effort, which never raises best. */
  readonly may_raise_best: boolean;
  /** false: half a repetition whose other half never came. */
  readonly comparable: boolean;
  readonly valley_N: number | null;
  readonly impulse_N_s: number;
  readonly muscle_action: MuscleAction | null;
  readonly verdict: Verdict | null;
}

export interface Cut {
  readonly running: Running | null;
  readonly closed: Closed | null;
}

/** The effort's peak, N: its highest steady level, or what it has. */
export function peakOf(running: Running): number {
  const eligible = eligiblePeak(running.peak);
  return eligible > 0 ? eligible : running.peak.top_N;
}

/** Begins an effort at its onset crossing. The newest reading is at or above the onset, the one before was not. */
export function beginEffort(
  trail: Trail,
  levels: Levels,
  muscle_action: MuscleAction | null,
  valley_N: number | null,
): Running {
  const start_us = crossing_us(trail, levels.onset_N);
  return beginAt(start_us, impulseAt(trail, start_us), muscle_action, valley_N);
}

function beginAt(
  start_us: number,
  start_impulse_N_s: number,
  muscle_action: MuscleAction | null,
  valley_N: number | null,
  took_over = false,
): Running {
  return { start_us, start_impulse_N_s, muscle_action, valley_N, peak: NO_PEAK, verdict: null, took_over };
}

/** Written out, like every change to a running effort: all of them are then of one hidden class. */
export function withVerdict(running: Running, verdict: Verdict | null): Running {
  const { start_us, start_impulse_N_s, muscle_action, valley_N, peak, took_over } = running;
  return { start_us, start_impulse_N_s, muscle_action, valley_N, peak, verdict, took_over };
}

/** An effort that is nothing but hanging on, since a moment whose impulse is known, at a level so far. */
export function beginHanging(
  muscle_action: MuscleAction | null,
  since: { readonly since_us: number; readonly impulse_N_s: number },
  valley_N: number,
  level_N: number,
): Running {
  const { start_us, start_impulse_N_s } = beginAt(since.since_us, since.impulse_N_s, muscle_action, valley_N);
  const peak: Peak = { top_N: level_N, top_us: start_us, steady_N: 0, quick_N: level_N, dip: null, certain: false };
  return { start_us, start_impulse_N_s, muscle_action, valley_N, peak, verdict: null, took_over: false };
}

/** Closes an effort at a moment whose running impulse is known. */
export function closeAt(running: Running, end_us: number, end_impulse_N_s: number): Closed {
  const { peak } = running;
  return {
    start_us: running.start_us,
    end_us,
    peak_us: peak.top_us === 0 ? end_us : Math.min(peak.top_us, end_us),
    peak_N: peakOf(running),
    may_raise_best: eligiblePeak(peak) > 0,
    comparable: true,
    valley_N: running.valley_N,
    impulse_N_s: end_impulse_N_s - running.start_impulse_N_s,
    muscle_action: running.muscle_action,
    verdict: running.verdict,
  };
}

/** One reading of a running effort, the trail's newest. `known`: the muscle action, where the board's cuts efforts. */
export function cut(running: Running, trail: Trail, known: MuscleAction | null, levels: Levels, setup: SetSetup): Cut {
  const { at_us, force_N, impulse_N_s } = trail.newest;
  if (force_N < levels.release_N) {
    const end_us = Math.max(running.start_us, crossing_us(trail, levels.release_N));
    return { running: null, closed: closeAt(running, end_us, impulseAt(trail, end_us)) };
  }
  if (known !== null && running.muscle_action !== null && known !== running.muscle_action) {
    return { running: beginAt(at_us, impulse_N_s, known, force_N, true), closed: closeAt(running, at_us, impulse_N_s) };
  }
  const level = levelOf(trail, running.start_us);
  const muscle_action = running.muscle_action ?? known;
  if (level === null) {
    return { running: muscle_action === running.muscle_action ? running : { ...running, muscle_action }, closed: null };
  }
  const eccentric = muscle_action === "eccentric" || (muscle_action === null && setup.style === "eccentric-only");
  const blind_s = eccentric || running.took_over ? BLIND_S : 0;
  const eligible = at_us - (EFFORT_SMOOTHING_S + blind_s) * 1e6 >= running.start_us;
  const prominence_N = Math.max(PROMINENCE_NOISES * setup.noise_N, PROMINENCE_SHARE * running.peak.top_N);
  const { dip } = running.peak;
  // What has its top before peaks may be two is one with the peak before: later, only what still rises is another.
  const rises =
    dip !== null && muscle_action === null && level.force_N >= Math.max(dip.since_N, dip.level_N + prominence_N);
  if (rises && at_us - HALF_SMOOTHING_US - running.peak.top_us >= PEAKS_APART_S * 1e6) {
    return {
      running: beginAt(dip.low_us, dip.low_impulse_N_s, null, dip.low_N),
      closed: closeAt(running, dip.low_us, dip.low_impulse_N_s),
    };
  }
  const peak = follow(running.peak, trail, level, eligible, prominence_N, muscle_action === null);
  if (peak === running.peak && muscle_action === running.muscle_action) return { running, closed: null };
  const { start_us, start_impulse_N_s, valley_N, took_over } = running;
  // Judged below too soon: it came up to the floor after all, and will be judged when it ends.
  const recovered = running.verdict !== null && eligiblePeak(peak) >= running.verdict.floor_N;
  const verdict = recovered ? null : running.verdict;
  const grown: Running = { start_us, start_impulse_N_s, muscle_action, valley_N, peak, verdict, took_over };
  return { running: grown, closed: null };
}

/** The moment, in us, at which the straight line between the last two readings met a level. */
function crossing_us(trail: Trail, level_N: number): number {
  const after = trail.newest;
  const before = after.older ?? trail.sealed.at(-1)?.at(-1);
  if (before === undefined || before.at_us < trail.whole_from_us || before.force_N === after.force_N)
    return after.at_us;
  const share = Math.min(1, Math.max(0, (level_N - before.force_N) / (after.force_N - before.force_N)));
  return before.at_us + Math.round(share * (after.at_us - before.at_us));
}

const impulseAt = (trail: Trail, at_us: number): number =>
  integralsAt(trail, at_us)?.impulse_N_s ?? trail.newest.impulse_N_s;
