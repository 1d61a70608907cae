/** Series of days made by hand or by seeded noise, for the tests of the judgement. */
import type { Advice } from "../../../protocol/requests/trend.ts";
import type { Day, Replayed, Series } from "../../../recorder/progress/series.ts";
import { DEFAULT_RULES, judge, type Rules } from "../../../recorder/progress/trend.ts";
import { normalAt, seedFor } from "../../../recorder/simulated-gym/random.ts";
import { frozen } from "../../calibration/frozen.ts";

/** The date so many days after the first of January 2026. */
export const dateOf = (offset: number): string => new Date(Date.UTC(2026, 0, 1 + offset)).toISOString().slice(0, 10);

/** A visit at which the set ended at a loss of 40 %, `offset` days into the record. */
export function visit(offset: number, best_force_N: number | null, changes: Partial<Day> = {}): Day {
  const day = dateOf(offset);
  return {
    day,
    set_id: `set of ${day}`,
    set_seq: offset,
    started_at: `${day}T10:00:00.000Z`,
    fatigue_threshold: 0.4,
    reached_threshold: true,
    best_force_N,
    impulse_N_s: null,
    duration_s: null,
    mean_force_N: null,
    mean_effort_force_N: null,
    force_loss: 0.4,
    expanded_uncertainty_N: 3,
    calibration_id: "first",
    zero_shift_N: null,
    best_unconfirmed: false,
    simulated: false,
    pain: null,
    ended_because: null,
    ...changes,
  };
}

/** A visit every four days, or at the days that are given; `changes` by the index of the visit. */
export const visits = (
  bests: readonly number[],
  changes: (index: number) => Partial<Day> = () => ({}),
  offset = (index: number) => 4 * index,
): Day[] => bests.map((best, index) => visit(offset(index), best, changes(index)));

export const seriesOf = (days: readonly Day[], changes: Partial<Series> = {}): Series => ({
  days,
  style: "continuous",
  intent: "maximal",
  threshold_meant: true,
  other_setup: null,
  today: days.at(-1)?.day ?? dateOf(0),
  plan: null,
  rested_s: null,
  ...changes,
});

/** The advice on such a series; what is judged is frozen all the way down. */
export const adviceOn = (
  days: readonly Day[],
  changes: Partial<Series> = {},
  rules: Partial<Rules> = {},
  replayed: Replayed = new Map(),
): Advice => judge(frozen(seriesOf(days, changes)), replayed, frozen({ ...DEFAULT_RULES, ...rules })).advice;

/**
 * A trainee of 1000 N whose results scatter by so much from day to day, as a fraction (normal in logarithms), around a form:
 * what of it they are at each visit.
 */
export const scattered = (
  seed: number,
  count: number,
  within_person: number,
  form: (index: number) => number = () => 1,
): number[] =>
  Array.from(
    { length: count },
    (_, index) => 1000 * form(index) * Math.exp(within_person * normalAt(seedFor(seed, "day"), index)),
  );
