/**
 * The finished set, as published (`set`, `latest-set`), stored and shown; fields in the contract's order.
 *
 * Forces in N (0.01), times in s (1 ms), fractions 0..1 (1e-4). `impulse_N_s` and `time_under_tension_s` are over
 * counted efforts from the onset in `options`, by the trapezoid rule in device time.
 */
import { z } from "zod";
import { DECIDED_BY, ENDED_BECAUSE, INTENTS, MUSCLE_ACTIONS, SIDES, STOP_REASONS, STYLES } from "../vocabulary.ts";
import { envelope, instant, stationId, traineeCode, uuid } from "./parts.ts";

const number_ = z.number().nullable();

/** Every option of a set, resolved. */
export const optionsSchema = z.looseObject({
  grace_s: z.number(),
  rest_limit_s: z.number().nullable(),
  time_limit_s: z.number(),
  effort_limit: z.int().nullable(),
  below_floor_to_stop: z.int(),
  onset_force_N: z.number(),
  efforts_per_cluster: z.int(),
  tested_best_force_N: number_,
  best_from: z.enum(["set", "today"]),
  ceiling_force_N: number_,
});
export type ResolvedOptions = z.infer<typeof optionsSchema>;

export const effortSchema = z.looseObject({
  effort_number: z.int().min(1),
  /** From the set's first onset, s. */
  start_s: z.number(),
  duration_s: z.number(),
  peak_force_N: z.number(),
  /** Lowest force between the previous effort and this one; null for the first. */
  valley_force_N: number_,
  mean_force_N: z.number(),
  impulse_N_s: z.number(),
  muscle_action: z.enum(MUSCLE_ACTIONS).nullable(),
  /** The floor as it stood when this effort was judged; null while there was none. */
  floor_force_N: number_,
  /** null: not judged (no floor, another muscle action, a touch). */
  below_floor: z.boolean().nullable(),
  /** false: a touch, listed only. */
  counted: z.boolean(),
  /** Shorter than 60 % of the set's median: never raises best. */
  brief: z.boolean(),
});
export type Effort = z.infer<typeof effortSchema>;

export const qualitySchema = z.looseObject({
  readings: z.int(),
  readings_lost: z.int(),
  lines_rejected: z.int(),
  despiked: z.int(),
  saturated: z.int(),
  reading_rate_Hz: number_,
  noise_N: number_,
  best_unconfirmed: z.boolean(),
  warming_up: z.boolean(),
});
export type Quality = z.infer<typeof qualitySchema>;

export const setSchema = z.looseObject({
  ...envelope,
  set_id: uuid,
  store: uuid,
  set_seq: z.int(),
  revision: z.int().min(1),
  station: stationId,
  exercise: z.string(),
  exercise_label: z.string(),
  trainee: traineeCode.nullable(),
  side: z.enum(SIDES).nullable(),
  style: z.enum(STYLES),
  intent: z.enum(INTENTS),
  warm_up: z.boolean(),
  set_of_day: z.int().nullable(),
  rested_s: number_,
  fatigue_threshold: number_,
  options: optionsSchema,
  tested_best_force_N: number_,
  started_at: instant,
  duration_s: z.number(),
  time_under_tension_s: z.number(),
  stop_reason: z.enum(STOP_REASONS),
  ended_because: z.enum(ENDED_BECAUSE).nullable(),
  reached_threshold: z.boolean(),
  cut_short: z.boolean(),
  best_force_N: number_,
  today_best_force_N: number_,
  floor_force_N: number_,
  final_force_N: number_,
  force_loss: number_,
  force_loss_today: number_,
  force_loss_uncertainty: number_,
  impulse_N_s: z.number(),
  mean_force_N: number_,
  mean_effort_force_N: number_,
  decline_per_s: number_,
  decline_per_effort: number_,
  concentric_best_force_N: number_,
  eccentric_best_force_N: number_,
  decided_by: z.enum(DECIDED_BY),
  efforts: z.array(effortSchema),
  resting_force_N: number_,
  resting_subtracted: z.boolean(),
  calibration_id: z.string(),
  expanded_uncertainty_N: number_,
  zero_shift_N: number_,
  quality: qualitySchema,
  engine: z.string(),
  void: z.boolean(),
  pain: number_,
  exertion: number_,
  note: z.string().nullable(),
});
export type SetMessage = z.infer<typeof setSchema>;

/** An erased set, so that readers erase it too. */
export const erasedSetSchema = z.looseObject({
  ...envelope,
  set_id: uuid,
  store: uuid,
  set_seq: z.int(),
  erased: z.literal(true),
});
