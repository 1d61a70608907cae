/**
 * The next dose as advice, its reasons first. What silences it comes before everything; then what today's result asks for, which
 * never touches the threshold; then whether the dose has done its work. The trainer decides.
 */
import type { Advice, AdviceKind } from "../../protocol/requests/trend.ts";
import type { Judging } from "./compare.ts";
import { daysBetween, isSameThreshold, sinceBreak, sinceDose } from "./episode.ts";
import type { Errors } from "./errors.ts";
import { expectedBest } from "./expected.ts";
import { repeatedImprovement } from "./improvement.ts";
import * as reasons from "./reasons.ts";
import type { Rules } from "./rules.ts";
import type { Day, Series } from "./series.ts";

export function adviceOf(series: Series, errors: Errors, rules: Rules & Judging): Advice {
  const { days } = series;
  const newest = days.at(-1);
  if (newest === undefined) return advice("too-few-sets", null, [reasons.noDays()]);
  const silent = silenced(series, newest, rules);
  if (silent !== null) return advice("none", null, [silent]);
  const here = sinceBreak(days, rules);
  if (here.length < rules.least_days) return advice("too-few-sets", null, [reasons.tooFew(here, rules.least_days)]);

  const dose = doseOf(series, newest, errors, rules);
  const low = lowToday(series, here, errors, rules);
  if (low === null) return advice(dose.advice, dose.fatigue_threshold, dose.reasons);
  // A bad day is answered with rest. What the dose has done, it has done all the same.
  const lower = dose.advice === "lower-threshold" ? dose.reasons : [];
  return advice(low.advice, dose.fatigue_threshold, [...low.reasons, ...lower]);
}

type Dose = Pick<Advice, "advice" | "fatigue_threshold" | "reasons">;

/** The threshold of the next set. It hangs on improvement alone, so that more of it never means a higher dose. */
function doseOf({ days, plan }: Series, newest: Day, errors: Errors, rules: Rules & Judging): Dose {
  const threshold = newest.fatigue_threshold;
  const keep = (fatigue_threshold: number | null, ...why: string[]): Dose => {
    return { advice: "keep", fatigue_threshold, reasons: why };
  };
  const meant = plan?.fatigue_threshold ?? null;
  if (meant !== null && !isSameThreshold(meant, threshold)) return keep(meant, reasons.planChanged(meant, threshold));
  const dose = sinceDose(days, rules);
  if (dose.length < rules.least_days || daysBetween((dose[0] as Day).day, newest.day) < rules.least_dose_days) {
    return keep(threshold, reasons.newDose(dose, rules));
  }
  const improved = repeatedImprovement(dose, errors, rules);
  if (improved === null) return keep(threshold, reasons.noImprovement(dose));
  const why = reasons.improvement(improved, dose, rules.improved_visits);
  if (threshold === null || threshold - rules.least_threshold < 0.005) {
    return keep(threshold, why, reasons.lowestThreshold(rules.least_threshold));
  }
  const lower = Math.max(rules.least_threshold, Math.round((threshold - rules.threshold_step) * 100) / 100);
  return { advice: "lower-threshold", fatigue_threshold: lower, reasons: [why, reasons.stepDown(threshold, lower)] };
}

const advice = (kind: AdviceKind, fatigue_threshold: number | null, why: readonly string[]): Advice => ({
  reasons: [...why],
  advice: kind,
  fatigue_threshold,
  limits: [...reasons.LIMITS],
});

/** Why nothing is advised; null: something may be. */
function silenced(series: Series, newest: Day, rules: Rules): string | null {
  const { days, intent, threshold_meant, other_setup, today, pain_since } = series;
  if (intent === "held") return reasons.held();
  if (!threshold_meant) return reasons.noThreshold();
  const { day, pain, ended } = pain_since ?? { ...newest, ended: newest.ended_because === "pain" };
  if (ended) return reasons.endedForPain(day);
  if (pain !== null && pain >= rules.pain_from) return reasons.pain(day, pain);
  if (daysBetween(newest.day, today) > rules.away_days) return reasons.away(newest.day, today);
  const [first] = days;
  if (
    other_setup !== null &&
    first !== undefined &&
    other_setup.last_day < first.day &&
    days.length < rules.least_days
  ) {
    return reasons.newSetup(first.day, days.length, rules.least_days);
  }
  const here = sinceBreak(days, rules);
  if (here.length < days.length && here.length < rules.least_days) {
    return reasons.backAgain((here[0] as Day).day, here.length, rules.least_days);
  }
  return null;
}

interface Low {
  readonly advice: "longer-rest" | "ease-off";
  readonly reasons: readonly string[];
}

/** The newest result lies below what the record predicts: less rest than wanted may be why, or they may be in need of some. */
function lowToday({ plan, rested_s }: Series, days: readonly Day[], errors: Errors, rules: Rules): Low | null {
  const error = errors.get("best_force_N");
  const expected = error === undefined ? null : expectedBest(days, error, rules);
  if (expected === null || !expected.below) return null;
  const [before, newest] = days.slice(-2) as [Day, Day];
  const low = reasons.below(expected, newest.day);
  const planned_s = plan?.rest_s ?? null;
  if (planned_s !== null && rested_s !== null && rested_s < planned_s) {
    return { advice: "longer-rest", reasons: [low, reasons.shortRest(rested_s, planned_s)] };
  }
  const since_days = daysBetween(before.day, newest.day);
  if (since_days < rules.rested_days) return { advice: "longer-rest", reasons: [low, reasons.dayAfter(since_days)] };
  return { advice: "ease-off", reasons: [low, reasons.easeOff()] };
}
