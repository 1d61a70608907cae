/**
 * What is fixed when a set is armed, and kept at the head of its log: who and what, the settings as resolved, and the
 * sensor as it stood. With the log it is all that composing the set needs, after a restart as well.
 */
import { z } from "zod";
import { calibrationRecordSchema } from "../../calibration/record.ts";
import { optionsSchema } from "../../protocol/messages/set.ts";
import { INTENTS, RESISTANCES, SIDES, STYLES } from "../../protocol/vocabulary.ts";

const setupSchema = z.object({
  style: z.enum(STYLES),
  intent: z.enum(INTENTS),
  resistance: z.enum(RESISTANCES),
  fatigue_threshold: z.number().nullable(),
  options: optionsSchema,
  peaks_per_repetition: z.union([z.literal(1), z.literal(2)]),
  return_stroke: z.enum(["loaded", "unloaded"]),
  subtract_resting: z.boolean(),
  cell_capacity_N: z.number(),
  noise_N: z.number(),
  reading_rate_Hz: z.number(),
  today_best_force_N: z.number().nullable(),
  comparable_best_force_N: z.number().nullable(),
});

export const armFactsSchema = z.object({
  arm_version: z.literal(1),
  set_id: z.uuid(),
  station: z.string(),
  exercise: z.string(),
  exercise_label: z.string(),
  trainee: z.string().nullable(),
  side: z.enum(SIDES).nullable(),
  warm_up: z.boolean(),
  /** Who asked for the set: a claim. */
  performed_by: z.string().nullable(),
  set_of_day: z.int().nullable(),
  last_set_ended_at: z.string().nullable(),
  setup_notes: z.record(z.string(), z.string()),
  setup: setupSchema,
  /** Device time and wall clock at the same moment: every instant of the set follows from the first. */
  at_us: z.number(),
  wall_ms: z.number(),
  clock_synced: z.boolean(),
  simulated: z.boolean(),
  calibration: calibrationRecordSchema,
  /** The zero in use, frozen for the set. */
  zero_counts: z.number(),
  warming_up: z.boolean(),
  /** The two readings before the first, so that the median of three is whole from the start. */
  before_counts: z.array(z.number()).max(2),
});
export type ArmFacts = z.infer<typeof armFactsSchema>;

/** Whose set it is, for a sentence. */
export const whoseSet = ({ trainee }: Pick<ArmFacts, "trainee">): string => trainee ?? "somebody unnamed";
