/** What a trend's drawings have in common: days with a best, the second figure, and where threshold and calibration changed. */
import { type Change, FIGURES, type Figure, type Trend, type TrendDay } from "../../protocol/requests/trend.ts";

export interface DayPoint {
  readonly at_ms: number;
  readonly value: number;
  readonly day: TrendDay;
}

export interface Series {
  readonly figure: Figure;
  /** The loss at which the sets ended; null: best, which compares across them. */
  readonly at_threshold: number | null;
  /** Oldest first. */
  readonly points: readonly DayPoint[];
}

const pointsOf = (days: readonly TrendDay[], figure: Figure): readonly DayPoint[] =>
  days.flatMap((day) => {
    const value = day[figure];
    const at_ms = Date.parse(day.started_at);
    return value === null || Number.isNaN(at_ms) ? [] : [{ at_ms, value, day }];
  });

export const bestSeries = ({ days }: Trend): Series => ({
  figure: "best_force_N",
  at_threshold: null,
  points: pointsOf(days, "best_force_N"),
});

/**
 * The first other figure that several days have at the newest day's own threshold, reached: a set that stops elsewhere, or
 * was ended before, has another impulse for that alone. null: there is none.
 */
export function secondSeries({ days }: Trend): Series | null {
  const newest = days.at(-1)?.fatigue_threshold ?? null;
  if (newest === null) return null;
  const alike = days.filter(
    ({ fatigue_threshold, reached_threshold }) => fatigue_threshold === newest && reached_threshold,
  );
  for (const figure of FIGURES.slice(1)) {
    const points = pointsOf(alike, figure);
    if (points.length > 1) return { figure, at_threshold: newest, points };
  }
  return null;
}

/** Days whose threshold differs from the day's before, the first among them. */
export const thresholdChanges = (points: readonly DayPoint[]): readonly DayPoint[] =>
  points.filter(({ day }, index) => day.fatigue_threshold !== points[index - 1]?.day.fatigue_threshold);

/** Halfway between the last day by one calibration and the first by another: nobody knows the moment from sets alone. */
export const calibrationMoments_ms = (points: readonly DayPoint[]): readonly number[] =>
  points.flatMap(({ at_ms, day }, index) => {
    const before = points[index - 1];
    return before === undefined || !day.new_calibration ? [] : [(before.at_ms + at_ms) / 2];
  });

export interface Baseline {
  readonly change: Change;
  /** The days of which the change's two values are the means; none where these cannot be told from the days shown. */
  readonly from: readonly DayPoint[];
  readonly to: readonly DayPoint[];
}

/** As far as published figures are rounded. */
const SAME = 1e-4;

/** What a figure's change compares; null: nothing is compared. */
export function baselineOf({ changes }: Trend, { figure, points }: Series): Baseline | null {
  const change = changes.find((found) => found.figure === figure);
  if (change === undefined) return null;
  const runs = (count: number): readonly (readonly DayPoint[])[] =>
    points.flatMap((_, index) => (index + count > points.length ? [] : [points.slice(index, index + count)]));
  const means =
    (value: number) =>
    (days: readonly DayPoint[]): boolean => {
      const mean = days.reduce((sum, point) => sum + point.value, 0) / days.length;
      return Math.abs(mean - value) <= Math.max(SAME * Math.abs(value), 0.011);
    };
  return {
    change,
    from: runs(change.from_days).find(means(change.from_value)) ?? [],
    to: runs(change.to_days).findLast(means(change.to_value)) ?? [],
  };
}

const DAY_MS = 86_400_000;
/** A single day has no breadth of its own. */
const LEAST_BREADTH_MS = 6 * DAY_MS;

export function spanOf(points: readonly DayPoint[]): readonly [number, number] {
  const first_ms = points[0]?.at_ms ?? 0;
  const last_ms = points.at(-1)?.at_ms ?? 0;
  const spare_ms = Math.max(0.02 * (last_ms - first_ms), (LEAST_BREADTH_MS - (last_ms - first_ms)) / 2);
  return [first_ms - spare_ms, last_ms + spare_ms];
}

/** At least a tenth of the value each way: the scatter of days must not look like a landslide. */
const LEAST_REACH = 0.1;
/** Below all of it, for the thresholds that are written there. */
const FOOT = 0.15;

export function reachOf(values: readonly number[]): readonly [number, number] {
  const low = values.reduce((least, value) => Math.min(least, value), Number.POSITIVE_INFINITY);
  const high = values.reduce((most, value) => Math.max(most, value), Number.NEGATIVE_INFINITY);
  const middle = (low + high) / 2;
  const half = Math.max((1.15 * (high - low)) / 2, LEAST_REACH * Math.abs(middle), 1e-3);
  return [Math.max(0, middle - (1 + 2 * FOOT) * half), middle + half];
}
