/**
 * The newest days against the first ones: means of logarithms, and what their difference must exceed. Best compares across
 * thresholds; the other figures only at one threshold, the shallower, because a deeper set is a longer one.
 */
import { type Change, FIGURES, type Figure } from "../../protocol/requests/trend.ts";
import { isSameThreshold } from "./episode.ts";
import type { Errors } from "./errors.ts";
import type { Rules } from "./rules.ts";
import { scalePart } from "./scales.ts";
import { type Day, type Replay, type Replayed, replayKey } from "./series.ts";
import { detectableChange } from "./typical-error.ts";

/** Which days are set against which. */
export interface Sides {
  readonly first: readonly Day[];
  readonly newest: readonly Day[];
}

/** null: too few for two of each. No day is on both sides. */
export function sidesOf(days: readonly Day[], { newest_days, first_days }: Rules): Sides | null {
  const half = Math.floor(days.length / 2);
  if (half < 2) return null;
  return { first: days.slice(0, Math.min(first_days, half)), newest: days.slice(-Math.min(newest_days, half)) };
}

/** The threshold at which both sides can be seen; null: none is meant. */
export function sharedThreshold({ first, newest }: Sides): number | null {
  const thresholds = [...first, ...newest].map(({ fatigue_threshold }) => fatigue_threshold);
  return thresholds.some((threshold) => threshold === null) ? null : Math.min(...(thresholds as number[]));
}

/** The sets whose curve goes deeper than the shared threshold. */
export function replaysOf(sides: Sides): readonly Replay[] {
  const fatigue_threshold = sharedThreshold(sides);
  if (fatigue_threshold === null) return [];
  return [...sides.first, ...sides.newest]
    .filter((day) => !isSameThreshold(day.fatigue_threshold, fatigue_threshold))
    .map(({ set_id }) => ({ set_id, fatigue_threshold }));
}

/** In the order of the figures; one that cannot be compared is left out. */
export function compare(sides: Sides, errors: Errors, replayed: Replayed, rules: Judging): Change[] {
  const best = changeOf("best_force_N", sides, errors, replayed, rules);
  // A lower start makes a longer set: more of anything is no gain where best has gone down.
  const down = best !== null && best.change < 0 && best.is_real;
  return FIGURES.flatMap((figure) => {
    const change = figure === "best_force_N" ? best : changeOf(figure, sides, errors, replayed, rules);
    return change === null ? [] : [{ ...change, is_improvement: change.is_real && change.change > 0 && !down }];
  });
}

export interface Judging extends Pick<Rules, "unknown_uncertainty"> {
  readonly smallest_worthwhile_change: number;
}

function changeOf(figure: Figure, sides: Sides, errors: Errors, replayed: Replayed, rules: Judging): Change | null {
  const error = errors.get(figure);
  const threshold = figure === "best_force_N" ? null : sharedThreshold(sides);
  if (error === undefined || (figure !== "best_force_N" && threshold === null)) return null;
  const [from, to] = [sides.first, sides.newest].map((days) => valuesOf(figure, days, threshold, replayed));
  if (from === undefined || to === undefined || from.length < 2 || to.length < 2) return null;
  const difference = meanLog(to) - meanLog(from);
  const { calibration_changed, uncertainty } = scalePart(sides.first, sides.newest, rules);
  const limit = Math.hypot(detectableChange(error, from.length, to.length), uncertainty);
  const change = Math.expm1(difference);
  return {
    figure,
    from_value: Math.exp(meanLog(from)),
    from_days: from.length,
    to_value: Math.exp(meanLog(to)),
    to_days: to.length,
    change,
    minimal_detectable_change: Math.expm1(limit),
    is_real: Math.abs(difference) > limit,
    is_improvement: false,
    is_worthwhile: Math.abs(change) > rules.smallest_worthwhile_change,
    at_threshold: threshold,
    calibration_changed,
  };
}

/** A set that ended before its threshold has not come to what it would have. */
function valuesOf(figure: Figure, days: readonly Day[], threshold: number | null, replayed: Replayed): number[] {
  return days.flatMap((day) => {
    const as_kept = threshold === null || isSameThreshold(day.fatigue_threshold, threshold);
    if (threshold !== null && as_kept && !day.reached_threshold) return [];
    const figures = as_kept ? day : replayed.get(replayKey(day.set_id, threshold));
    const value = figures?.[figure] ?? null;
    return value === null || value <= 0 ? [] : [value];
  });
}

const meanLog = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + Math.log(value), 0) / values.length;
