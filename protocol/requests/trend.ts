/**
 * What `trend` answers: how a trainee's results go at a station, what of it is more than the error of measurement, and the
 * next dose as advice, its reasons first. Forces N (0.01), times s, fractions 0..1 (1e-4); null: not known.
 */
import { z } from "zod";
import { instant, stationId, traineeCode, uuid } from "../messages/parts.ts";
import { INTENTS, SIDES, STYLES } from "../vocabulary.ts";
import { setupNotes } from "./plan.ts";

const number_ = z.number().nullable();

/** What is compared. Best compares across thresholds; the others only at one threshold, the shallower. */
export const FIGURES = ["best_force_N", "impulse_N_s", "duration_s", "mean_force_N"] as const;
export type Figure = (typeof FIGURES)[number];

/** A day's first comparable set. */
export const trendDaySchema = z.looseObject({
  /** At the station, YYYY-MM-DD. */
  day: z.iso.date(),
  set_id: uuid,
  set_seq: z.int(),
  started_at: instant,
  fatigue_threshold: number_,
  reached_threshold: z.boolean(),
  best_force_N: number_,
  impulse_N_s: number_,
  duration_s: number_,
  mean_force_N: number_,
  mean_effort_force_N: number_,
  force_loss: number_,
  /** k = 2, at best. */
  expanded_uncertainty_N: number_,
  calibration_id: z.string(),
  /** By another calibration than the day before it in this list: part of a step there may be the scale's. */
  new_calibration: z.boolean(),
  zero_shift_N: number_,
  best_unconfirmed: z.boolean(),
  /** Nobody trained: the program's own gym did. */
  simulated: z.boolean(),
  /** The highest pain said of any set of that day here; null: none was said. */
  pain: number_,
});
export type TrendDay = z.infer<typeof trendDaySchema>;
/** What a day tells by itself, without the day before it. */
export type DayAlone = Pick<TrendDay, Exclude<keyof typeof trendDaySchema.shape, "new_calibration">>;

/** How far a figure scatters from one day to the next though nothing has changed. */
export const measurementErrorSchema = z.looseObject({
  figure: z.enum(FIGURES),
  /** Of one day, as a fraction of the figure. Also called the standard error of measurement. */
  typical_error: z.number(),
  /** null: published, and taken as known. */
  degrees_of_freedom: number_,
  from: z.enum(["own", "published"]),
  /** One sentence: how many days, or which publication. */
  source: z.string(),
  /** What a difference of two single days must exceed, 95 %, as a fraction. */
  minimal_detectable_change: z.number(),
});
export type MeasurementError = z.infer<typeof measurementErrorSchema>;

export const changeSchema = z.looseObject({
  figure: z.enum(FIGURES),
  /** Means of so many days each. */
  from_value: z.number(),
  from_days: z.int(),
  to_value: z.number(),
  to_days: z.int(),
  /** Of from_value; positive: more. */
  change: z.number(),
  /** What this change must exceed to be one: measurement error, and the scale's where calibrations differ. */
  minimal_detectable_change: z.number(),
  is_real: z.boolean(),
  /** Real, more, and no more than a lower start makes: nothing is an improvement where best has gone down. */
  is_improvement: z.boolean(),
  /** Whether it is more than the smallest worthwhile change, real or not. */
  is_worthwhile: z.boolean(),
  /** The threshold at which both sides are compared; null: best, which needs none. */
  at_threshold: number_,
  calibration_changed: z.boolean(),
});
export type Change = z.infer<typeof changeSchema>;

/** lower-threshold: stop at a smaller loss. longer-rest and ease-off: today was below what the record predicts. none: silent, and why. */
export const ADVICE = ["lower-threshold", "keep", "longer-rest", "ease-off", "too-few-sets", "none"] as const;
export type AdviceKind = (typeof ADVICE)[number];

export const adviceSchema = z.looseObject({
  /** One sentence each, what was found first. */
  reasons: z.array(z.string()),
  advice: z.enum(ADVICE),
  /** The loss at which the next set is to end; null: no advice on it. */
  fatigue_threshold: number_,
  /** What no advice can know, one sentence each. The trainer decides. */
  limits: z.array(z.string()),
});
export type Advice = z.infer<typeof adviceSchema>;

export const trendSchema = z.looseObject({
  exercise: z.string(),
  exercise_label: z.string(),
  side: z.enum(SIDES).nullable(),
  style: z.enum(STYLES),
  intent: z.enum(INTENTS),
  /** Of the newest set; sets with other notes or another resting mode are not comparable, and not in `days`. */
  setup: setupNotes,
  resting_subtracted: z.boolean(),
  /** Oldest first, as many as were asked for. However few that are, the newest 100 since `from` are judged. */
  days: z.array(trendDaySchema),
  /** There are earlier ones. */
  more: z.boolean(),
  /** Days left out because of another setup or resting mode. */
  days_of_other_setup: z.int(),
  errors: z.array(measurementErrorSchema),
  smallest_worthwhile_change: z.looseObject({ fraction: z.number(), source: z.string() }),
  changes: z.array(changeSchema),
  advice: adviceSchema,
});
export type Trend = z.infer<typeof trendSchema>;

/** One for each exercise, side, style and intent there is, newest first. */
export const trendResultSchema = z.looseObject({
  station: stationId,
  trainee: traineeCode,
  trends: z.array(trendSchema),
});
export type TrendResult = z.infer<typeof trendResultSchema>;
