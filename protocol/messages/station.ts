/** What a station publishes while it is in use: `live`, `state`, `effort`, `sensor`. Forces N, times s, fractions 0..1. */
import { z } from "zod";
import { ALARM_CODES, INTENTS, PHASES, SIDES, STOP_REASONS, STYLES } from "../vocabulary.ts";
import { count, envelope, fraction, instant, traineeCode, uuid } from "./parts.ts";
import { effortSchema, setSchema } from "./set.ts";

const number_ = z.number().nullable();

/** Live values: never retained, never queued. Old after `ttl_s` by the reader's own clock. */
export const liveSchema = z.looseObject({
  ...envelope,
  set_id: uuid.nullable().describe("The running or last set; null: none."),
  phase: z.enum(PHASES),
  live_seq: count.describe("From 0 per boot, +1 a message."),
  elapsed_s: number_.describe("In the set, from its first onset, s; null outside one."),
  force_N: number_.describe("N, positive when the trainee works against the machine; null: no valid reading."),
  min_force_N: number_.describe("Lowest since the previous message, N."),
  max_force_N: number_.describe("Highest since the previous message, N."),
  best_force_N: number_.describe("The highest confirmed smoothed force of the set so far, N; null: none yet."),
  floor_force_N: number_.describe("best x (1 - threshold), N; null: none yet."),
  force_reserve: fraction.nullable().describe("(peak or smoothed force - floor) / (best - floor), 0..1."),
  effort_number: count.describe("The running or last effort; 0 before the first."),
  below_floor_s: number_.describe("How long the smoothed force of a hold has been below the floor, s."),
  ttl_s: z.number().describe("Older than this by the reader's own clock, show nothing, s."),
  counts: number_.optional().describe("Only while the station is being calibrated: counts, before any scale."),
  still: z.boolean().optional().describe("Only then: a load hangs quiet enough for a point to be taken."),
});
export type LiveMessage = z.infer<typeof liveSchema>;

export const stateSchema = z.looseObject({
  ...envelope,
  phase: z
    .enum(PHASES)
    .describe("finished: until the next begin or 120 s. It says that a set is over; `set` says that it is kept."),
  set_id: uuid.nullable().describe("The running or last set; null: none."),
  trainee: traineeCode.nullable().describe("A code, never a name; null: nobody named."),
  side: z.enum(SIDES).nullable(),
  exercise: z.string().describe("The exercise's code."),
  exercise_label: z.string().describe("The exercise for people to read."),
  style: z.enum(STYLES).nullable(),
  intent: z.enum(INTENTS).nullable(),
  fatigue_threshold: number_.describe("The chosen loss from best, 0..1."),
  resting_force: z.enum(["taken", "not-taken", "not-needed"]),
  setup: z.record(z.string(), z.string()).describe("Free notes on how the trainee is set up."),
  comparable_set: setSchema
    .partial()
    .nullable()
    .describe("The newest comparable set, in the order and names of `set`."),
  last_ended_at: instant.nullable().describe("When the last set here ended."),
  stop_reason: z.enum(STOP_REASONS).nullable().describe("Only when finished."),
});
export type StateMessage = z.infer<typeof stateSchema>;

/** One finished effort of the running set. */
export const effortMessageSchema = z.looseObject({
  ...envelope,
  set_id: uuid.describe("The running set."),
  ...effortSchema.shape,
});
export type EffortMessage = z.infer<typeof effortMessageSchema>;

export const alarmSchema = z.looseObject({
  code: z.enum(ALARM_CODES),
  since: instant,
  detail: z.string().describe("One sentence: what is wrong and what would do."),
  latched: z.boolean().describe("Stays until a technician clears it."),
});
export type Alarm = z.infer<typeof alarmSchema>;

export const sensorSchema = z.looseObject({
  ...envelope,
  ready: z.boolean().describe("A set can begin."),
  reasons: z.array(z.string()).describe("Why not ready, one sentence each."),
  force_N: number_.describe("N; null: no valid reading."),
  zero_shift_N: number_.describe("How far zero has moved from the calibrated one, N."),
  noise_N: number_.describe("Standard deviation of one reading at rest, N."),
  reading_rate_Hz: number_.describe("Measured, readings a second."),
  lines_rejected: count.describe("Since the recorder was started: lines that failed their check."),
  readings_lost: count.describe("Since the recorder was started: readings the board sent and we never got."),
  calibration_id: z.string().nullable().describe("The record in force; null: none, so no force."),
  calibration_due: instant.nullable(),
  warming_up: z.boolean().describe("The electronics have not reached their temperature yet."),
  board: z.string().nullable().describe("The board's own name."),
  firmware: z.string().nullable(),
  alarms: z.array(alarmSchema).describe("Standing alarms."),
});
export type SensorMessage = z.infer<typeof sensorSchema>;
