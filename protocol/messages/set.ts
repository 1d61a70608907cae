/**
 * The finished set, as published (`set`, `latest-set`), stored and shown; fields in the published order.
 *
 * Forces in N (0.01), times in s (1 ms), fractions 0..1 (1e-4). `impulse_N_s` and `time_under_tension_s` are over
 * counted efforts from the onset in `options`, by the trapezoid rule in device time.
 */
import { z } from "zod";
import { DECIDED_BY, ENDED_BECAUSE, INTENTS, MUSCLE_ACTIONS, SIDES, STOP_REASONS, STYLES } from "../vocabulary.ts";
import { count, envelope, instant, stationId, traineeCode, uuid } from "./parts.ts";

const number_ = z.number().nullable();

/** Every option of a set, resolved. */
export const optionsSchema = z.looseObject({
  grace_s: z.number().describe("A hold is over when smoothed force has stayed below the floor for this long, s."),
  rest_limit_s: z.number().nullable().describe("Rest that ends the set, s; null: none."),
  time_limit_s: z.number().describe("The longest the set may last, s."),
  effort_limit: z.int().nullable().describe("Counted efforts that end the set; null: no limit."),
  below_floor_to_stop: z.int().describe("Counted efforts in a row below the floor that end the set."),
  onset_force_N: z.number().describe("Force above which an effort runs, N, above the resting force."),
  efforts_per_cluster: z.int().describe("Efforts that make one cluster in rest-pause."),
  tested_best_force_N: number_.describe("Best from a test beforehand, N; null: found within the set."),
  best_from: z.enum(["set", "today"]).describe("Which best the loss is measured against."),
  ceiling_force_N: number_.describe("A clinician's ceiling for a held intent, N; null: none."),
});
export type ResolvedOptions = z.infer<typeof optionsSchema>;

export const effortSchema = z.looseObject({
  effort_number: z.int().min(1).describe("From 1 within the set."),
  start_s: z.number().describe("From the set's first onset, s."),
  duration_s: z.number().describe("From onset to release, s."),
  peak_force_N: z.number().describe("Highest smoothed force, N."),
  valley_force_N: number_.describe("Lowest force between the previous effort and this one, N; null for the first."),
  mean_force_N: z.number().describe("Mean over the effort, N."),
  impulse_N_s: z.number().describe("Force over time, N s."),
  muscle_action: z.enum(MUSCLE_ACTIONS).nullable().describe("null: not known."),
  floor_force_N: number_.describe("The floor as it stood when this effort was judged, N; null while there was none."),
  below_floor: z.boolean().nullable().describe("null: not judged (no floor, another muscle action, a touch)."),
  counted: z.boolean().describe("False: a touch, listed only."),
  brief: z.boolean().describe("Shorter than 60 % of the set's median: never raises best."),
});
export type Effort = z.infer<typeof effortSchema>;

export const qualitySchema = z.looseObject({
  readings: count.describe("Readings taken in the set."),
  readings_lost: count.describe("Readings the board sent and we never got."),
  lines_rejected: count.describe("Lines that failed their check."),
  despiked: count.describe("Readings whose value the median of three replaced."),
  saturated: count.describe("Readings at the amplifier's limit: no force."),
  reading_rate_Hz: number_.describe("Measured, readings a second."),
  noise_N: number_.describe("Standard deviation of one reading at rest, N."),
  best_unconfirmed: z.boolean().describe("Best was capped: no second effort came near it."),
  warming_up: z.boolean().describe("The electronics had not reached their temperature."),
});

export const setSchema = z.looseObject({
  ...envelope,
  set_id: uuid.describe("UUIDv7; the same for every revision of the set."),
  store: uuid.describe("The database file it is kept in."),
  set_seq: z.int().describe("Per store, one higher with every row of its change log, never reused: order by it."),
  revision: z.int().min(1).describe("From 1; keep the highest."),
  station: stationId,
  exercise: z.string().describe("The exercise's code."),
  exercise_label: z.string().describe("The exercise for people to read."),
  trainee: traineeCode.nullable().describe("A code, never a name; null: nobody named."),
  side: z.enum(SIDES).nullable(),
  style: z.enum(STYLES),
  intent: z.enum(INTENTS).describe("held: submaximal on purpose; the loss is of held force."),
  warm_up: z.boolean(),
  set_of_day: z.int().nullable().describe("1 for this trainee's first set here today; null for nobody named."),
  rested_s: number_.describe("Since this trainee's last set ended, s; null: not known."),
  fatigue_threshold: number_.describe("The chosen loss from best, 0..1; null: none was set."),
  options: optionsSchema.describe("Every option, resolved."),
  tested_best_force_N: number_.describe("Best from a test beforehand, N."),
  started_at: instant.describe("The first onset."),
  duration_s: z
    .number()
    .describe("First onset to the deciding moment, s; while resting, to the last counted effort's end."),
  time_under_tension_s: z.number().describe("Time in counted efforts, s."),
  stop_reason: z.enum(STOP_REASONS),
  ended_because: z.enum(ENDED_BECAUSE).nullable().describe("Why somebody asked for the end; null: nobody did."),
  reached_threshold: z.boolean().describe("The chosen loss was reached."),
  cut_short: z.boolean().describe("Ended by overload, a sensor fault or a restart: not comparable."),
  best_force_N: number_.describe("The highest confirmed smoothed force of the set, N."),
  today_best_force_N: number_.describe("Today's best of this trainee, station, side, style and setup, N."),
  floor_force_N: number_.describe("best x (1 - threshold) at the end, N."),
  final_force_N: number_.describe("What was left at the end, N."),
  force_loss: number_.describe(
    "(best - final) / best, 0..1: what the set cost; null where the machine sets the force.",
  ),
  force_loss_today: number_.describe("The same against today's best, 0..1."),
  force_loss_uncertainty: number_.describe("Expanded uncertainty (k = 2) of force_loss, as a fraction."),
  impulse_N_s: z.number().describe("Over counted efforts, device time, trapezoid rule, N s."),
  mean_force_N: number_.describe("impulse / duration, N: the rate of work."),
  mean_effort_force_N: number_.describe("impulse / time under tension, N."),
  decline_per_s: number_.describe("Least squares from the best on, fraction of best per s, positive = losing."),
  decline_per_effort: number_.describe("The same per counted effort."),
  concentric_best_force_N: number_.describe("Best of concentric efforts alone, N; null: none known."),
  eccentric_best_force_N: number_.describe("Best of eccentric efforts alone, N; null: none known."),
  decided_by: z.enum(DECIDED_BY).describe("Whose efforts decided the stop."),
  efforts: z.array(effortSchema),
  resting_force_N: number_.describe("What the relaxed limb put on the sensor, N; null: not taken."),
  resting_subtracted: z.boolean().describe("The resting force is taken off every force here."),
  calibration_id: z.string().describe("The calibration record that turned counts into N."),
  expanded_uncertainty_N: number_.describe("k = 2, at best, N."),
  zero_shift_N: number_.describe("How far zero had moved after the set, N; null at first: a revision brings it."),
  quality: qualitySchema.describe("How far to trust the numbers."),
  engine: z.string().describe("Version of the rules that decided."),
  void: z.boolean().describe("Taken out of every comparison by a person."),
  pain: number_.describe("0..10 as said by the trainee; null: not asked."),
  exertion: number_.describe("0..10 as said by the trainee; null: not asked."),
  note: z.string().nullable(),
});
export type SetMessage = z.infer<typeof setSchema>;

/** An erased set, so that readers erase it too. */
export const erasedSetSchema = z.looseObject({
  ...envelope,
  set_id: uuid.describe("Erase every revision of it."),
  store: uuid.describe("The database file it was kept in."),
  set_seq: z.int().describe("The erasure's own place in the change log."),
  erased: z.literal(true),
});
