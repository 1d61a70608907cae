/** The verbs that only look. */
import { z } from "zod";
import { stationId, traineeCode, uuid } from "../messages/parts.ts";
import { INTENTS, SIDES, STYLES } from "../vocabulary.ts";
import { at, type VerbRule } from "./verb-parts.ts";

export const READ_VERBS = {
  status: { group: "read", args: z.strictObject({ station: stationId.optional() }) },
  sets: {
    group: "read",
    args: z.strictObject({
      station: stationId.optional(),
      trainee: traineeCode.optional(),
      side: z.enum(SIDES).optional(),
      style: z.enum(STYLES).optional(),
      exercise: z.string().min(1).max(60).optional(),
      from_set_seq: z.int().min(0).optional(),
      before_set_seq: z.int().min(0).optional(),
      from: z.iso.datetime({ offset: true }).optional(),
      to: z.iso.datetime({ offset: true }).optional(),
      limit: z
        .int()
        .min(1)
        .max(1000)
        .default(100)
        .describe(
          "At most so many. A page also ends at 512 KiB, so that no station waits for it; the answer's `more` says whether others fit. With from_set_seq it also says in `erased` which sets are gone ({set_id, set_seq}, at most 1,000): go on from the set_seq after the highest of both lists. Without, it holds the newest: go on with before_set_seq, its first one.",
        ),
    }),
  },
  set: { group: "read", args: z.strictObject({ set_id: uuid, curve: z.boolean().optional() }) },
  watch: { group: "read", over_mqtt: false, args: z.strictObject({ station: stationId.optional() }) },
  tags: { group: "read", args: z.strictObject({}) },
  calibrations: {
    group: "read",
    args: z.strictObject({
      ...at,
      zeros: z.boolean().optional().describe("With where the zero stood, oldest first: at most the newest 2000 times."),
    }),
  },
  plan: {
    group: "read",
    args: z.strictObject({
      ...at,
      trainee: traineeCode.optional().describe("Absent: of all who have a plan here, by code."),
      after_trainee: traineeCode.optional().describe("Go on from where an answer said `more`."),
    }),
  },
  /** How a trainee's results go here: each day's first comparable set, what is more than chance, and the next dose as advice. */
  trend: {
    group: "read",
    args: z.strictObject({
      ...at,
      trainee: traineeCode,
      side: z.enum(SIDES).optional(),
      style: z.enum(STYLES).optional(),
      exercise: z.string().min(1).max(60).optional(),
      intent: z.enum(INTENTS).optional(),
      from: z.iso.datetime({ offset: true }).optional(),
      to: z.iso.datetime({ offset: true }).optional(),
      limit: z.int().min(1).max(1000).default(100).describe("At most so many days of each, the newest."),
    }),
  },
} as const satisfies Record<string, VerbRule>;
