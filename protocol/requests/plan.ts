/**
 * A plan: what one trainee does at one station, as their trainer decided it. `begin` and tags take from it what they leave
 * out. Forces N, times s, fractions 0..1; null: the plan does not say, so the station does.
 */
import { z } from "zod";
import { instant, stationId, traineeCode } from "../messages/parts.ts";
import { INTENTS, SIDES, STYLES } from "../vocabulary.ts";
import { beginOptions, oneLine } from "./verb-parts.ts";

const threshold = z.number().min(0.1).max(0.75);
const exercise = oneLine.max(60);

/** Free notes on how the trainee is set up, such as seat, pin and handle. Two sets are comparable only where these are equal. */
export const setupNotes = z
  .record(oneLine.max(40), oneLine.max(120))
  .refine((notes) => Object.keys(notes).length <= MOST_NOTES, "holds at most 12 notes");
export type SetupNotes = z.infer<typeof setupNotes>;
const MOST_NOTES = 12;

/** The sides that are trained, in their order: each next set is of the side after the last one's. Empty: no side is named. */
const sides = z
  .array(z.enum(SIDES))
  .max(SIDES.length)
  .refine((named) => new Set(named).size === named.length, "names a side twice");

/** So many sets of each day and side begin as warm-ups, and end at this loss where one is given. */
const warmUpRule = z.strictObject({ sets: z.int().min(1).max(5), fatigue_threshold: threshold.nullable() });

const rest_s = z.number().min(0).max(3600);

/** What is another on one side. Left out: as the plan says for both. */
const sideSchema = z.strictObject({
  fatigue_threshold: threshold.optional(),
  intent: z.enum(INTENTS).optional(),
  setup: setupNotes.optional(),
  options: beginOptions.optional(),
});
export type SidePlan = z.infer<typeof sideSchema>;

/** A kept plan, whole. */
export const planSchema = z.looseObject({
  station: stationId,
  trainee: traineeCode,
  sides,
  exercise: exercise.nullable(),
  style: z.enum(STYLES).nullable(),
  intent: z.enum(INTENTS).nullable(),
  fatigue_threshold: threshold.nullable(),
  setup: setupNotes,
  options: beginOptions,
  warm_up: warmUpRule.nullable(),
  /** Between two sets of this trainee: `begin` says where it was less. */
  rest_s: rest_s.nullable(),
  /** Laid over the rest, notes and options one by one. */
  by_side: z.strictObject({ left: sideSchema.optional(), right: sideSchema.optional(), both: sideSchema.optional() }),
  note: oneLine.nullable(),
  saved_at: instant,
  /** Who decided it: a claim. null: nobody said. */
  performed_by: z.string().nullable(),
});
export type Plan = z.infer<typeof planSchema>;

const noteChanges = z.record(oneLine.max(40), oneLine.max(120).nullable());
const optionChanges = z
  .strictObject(
    Object.fromEntries(Object.entries(beginOptions.shape).map(([name, schema]) => [name, schema.nullable()])) as {
      [K in keyof typeof beginOptions.shape]: z.ZodNullable<(typeof beginOptions.shape)[K]>;
    },
  )
  .partial();

const sideChanges = z.strictObject({
  fatigue_threshold: threshold.nullable().optional(),
  intent: z.enum(INTENTS).nullable().optional(),
  setup: noteChanges.nullable().optional(),
  options: optionChanges.nullable().optional(),
});

/** What `plan-save` changes: what is left out stays, null clears; notes and options are changed one by one. */
export const planChanges = {
  sides: sides.optional(),
  exercise: exercise.nullable().optional(),
  style: z.enum(STYLES).nullable().optional(),
  intent: z.enum(INTENTS).nullable().optional(),
  fatigue_threshold: threshold.nullable().optional(),
  setup: noteChanges.nullable().optional(),
  options: optionChanges.nullable().optional(),
  warm_up: warmUpRule.nullable().optional(),
  rest_s: rest_s.nullable().optional(),
  by_side: z
    .strictObject({
      left: sideChanges.nullable().optional(),
      right: sideChanges.nullable().optional(),
      both: sideChanges.nullable().optional(),
    })
    .optional(),
  note: oneLine.nullable().optional(),
} as const;

/** `plan`: of one trainee, or of all who have one at the station, by code. */
export const planResultSchema = z.looseObject({
  station: stationId,
  plans: z.array(planSchema),
  /** Others come after the last of these: ask with `after_trainee`. */
  more: z.boolean(),
});

/** `plan-save`: the plan as it is now; null: it was taken away. `changed` false: it was so already, and nothing was written. */
export const planSaveResultSchema = z.looseObject({ plan: planSchema.nullable(), changed: z.boolean() });
