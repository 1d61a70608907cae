/** Stretches of a series: since the last long break, and since the dose was changed. */
import type { Rules } from "./rules.ts";
import type { Day } from "./series.ts";

const DAY_MS = 24 * 3_600_000;

/** Whole days from one date to a later one, both YYYY-MM-DD. */
export const daysBetween = (from: string, to: string): number => (Date.parse(to) - Date.parse(from)) / DAY_MS;

/** Thresholds are chosen in whole percent. */
export const isSameThreshold = (one: number | null, other: number | null): boolean =>
  one === null || other === null ? one === other : Math.abs(one - other) < 0.005;

/** The newest days without a long break between them. */
export function sinceBreak(days: readonly Day[], { away_days }: Rules): readonly Day[] {
  return newestWhile(days, (before, day) => daysBetween(before.day, day.day) <= away_days);
}

/** The newest of those days with one threshold. */
export function sinceDose(days: readonly Day[], rules: Rules): readonly Day[] {
  return newestWhile(sinceBreak(days, rules), (before, day) =>
    isSameThreshold(before.fatigue_threshold, day.fatigue_threshold),
  );
}

function newestWhile(days: readonly Day[], belong: (before: Day, day: Day) => boolean): readonly Day[] {
  let from = days.length - 1;
  while (from > 0 && belong(days[from - 1] as Day, days[from] as Day)) from -= 1;
  return days.slice(Math.max(0, from));
}
