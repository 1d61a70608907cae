/** What a station publishes while it is in use: `live`, `state`, `effort`, `sensor`. Forces N, times s, fractions 0..1. */
import { z } from "zod";
import { ALARM_CODES, INTENTS, PHASES, SIDES, STOP_REASONS, STYLES } from "../vocabulary.ts";
import { envelope, fraction, instant, traineeCode, uuid } from "./parts.ts";
import { effortSchema, setSchema } from "./set.ts";

const number_ = z.number().nullable();

/** Live values: never retained, never queued. Old after `ttl_s` by the reader's own clock. */
export const liveSchema = z.looseObject({
  ...envelope,
  set_id: uuid.nullable(),
  phase: z.enum(PHASES),
  /** From 0 per boot, +1 a message. */
  live_seq: z.int(),
  /** In the set, from its first onset; null outside one. */
  elapsed_s: number_,
  /** null: no valid reading. */
  force_N: number_,
  /** Lowest and highest since the previous message. */
  min_force_N: number_,
  max_force_N: number_,
  best_force_N: number_,
  floor_force_N: number_,
  force_reserve: fraction.nullable(),
  /** The running or last effort; 0 before the first. */
  effort_number: z.int(),
  /** How long the smoothed force of a hold has been below the floor. */
  below_floor_s: number_,
  ttl_s: z.number(),
});
export type LiveMessage = z.infer<typeof liveSchema>;

export const stateSchema = z.looseObject({
  ...envelope,
  phase: z.enum(PHASES),
  set_id: uuid.nullable(),
  trainee: traineeCode.nullable(),
  side: z.enum(SIDES).nullable(),
  exercise: z.string(),
  exercise_label: z.string(),
  style: z.enum(STYLES).nullable(),
  intent: z.enum(INTENTS).nullable(),
  fatigue_threshold: number_,
  resting_force: z.enum(["taken", "not-taken", "not-needed"]),
  setup: z.record(z.string(), z.string()),
  comparable_set: setSchema.partial().nullable(),
  last_ended_at: instant.nullable(),
  /** Only when finished. */
  stop_reason: z.enum(STOP_REASONS).nullable(),
});
export type StateMessage = z.infer<typeof stateSchema>;

/** One finished effort of the running set. */
export const effortMessageSchema = z.looseObject({ ...envelope, set_id: uuid, ...effortSchema.shape });
export type EffortMessage = z.infer<typeof effortMessageSchema>;

export const alarmSchema = z.looseObject({
  code: z.enum(ALARM_CODES),
  since: instant,
  detail: z.string(),
  /** A latched alarm stays until a technician clears it. */
  latched: z.boolean(),
});
export type Alarm = z.infer<typeof alarmSchema>;

export const sensorSchema = z.looseObject({
  ...envelope,
  ready: z.boolean(),
  /** Why not ready, one sentence each. */
  reasons: z.array(z.string()),
  force_N: number_,
  zero_shift_N: number_,
  noise_N: number_,
  reading_rate_Hz: number_,
  lines_rejected: z.int(),
  readings_lost: z.int(),
  calibration_id: z.string().nullable(),
  calibration_due: instant.nullable(),
  warming_up: z.boolean(),
  board: z.string().nullable(),
  firmware: z.string().nullable(),
  alarms: z.array(alarmSchema),
});
export type SensorMessage = z.infer<typeof sensorSchema>;
