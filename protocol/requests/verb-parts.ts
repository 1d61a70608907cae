/** What several verbs take: options of a set, who acts where, and text for people. Forces N, times s, masses kg, angles degrees. */
import { z } from "zod";
import { stationId, traineeCode } from "../messages/parts.ts";
import { LOADINGS, SIDES } from "../vocabulary.ts";

export const beginOptions = z.strictObject({
  grace_s: z.number().min(0.2).max(5).optional(),
  rest_limit_s: z.number().min(1).max(600).optional(),
  time_limit_s: z.number().min(5).max(1800).optional(),
  effort_limit: z.int().min(1).max(200).optional(),
  below_floor_to_stop: z.int().min(1).max(5).optional(),
  onset_force_N: z.number().min(1).max(100_000).optional(),
  efforts_per_cluster: z.int().min(1).max(20).optional(),
  tested_best_force_N: z.number().min(1).max(100_000).optional(),
  best_from: z.enum(["set", "today"]).optional(),
  ceiling_force_N: z.number().min(1).max(100_000).optional(),
});
export type BeginOptions = z.infer<typeof beginOptions>;

export const at = { station: stationId } as const;
/** A code of who acts: a claim, stored. */
export const by = { performed_by: traineeCode.optional() } as const;
export const acting = { station: stationId, ...by } as const;

/** As the trainee says it. */
const outOfTen = z.number().min(0).max(10);

/** Shown as it is, in terminals and on screens: nothing in it may steer one or break its line, and half a character is none. */
export const oneLine = z
  .string()
  .min(1)
  .max(2000)
  .regex(/^[^\p{Cc}\p{Cs}\p{Zl}\p{Zp}]*$/u, "must be one line of text");

/** What a person may set right in a kept set. null clears; what is left out stays as it is. */
export const amendable = {
  trainee: traineeCode.nullable().optional(),
  side: z.enum(SIDES).nullable().optional(),
  warm_up: z.boolean().optional(),
  void: z.boolean().optional(),
  pain: outOfTen.nullable().optional(),
  exertion: outOfTen.nullable().optional(),
  note: oneLine.nullable().optional(),
} as const;
export const someChange = (value: object): boolean => Object.keys(amendable).some((name) => Object.hasOwn(value, name));
export const SOME_CHANGE = `give at least one of ${Object.keys(amendable).join(", ")}`;

export const load = {
  mass_kg: z.number().positive().max(20_000).optional(),
  force_N: z.number().positive().max(200_000).optional(),
  relative_tolerance: z.number().min(0).max(0.1).optional(),
  at: z.enum(["handle", "cell"]).optional(),
  lever_angle_deg: z.number().min(-80).max(80).optional(),
} as const;
/** How a load was reached: from less, or from more. What friction holds back stands between the two. */
export const loading = z.enum(LOADINGS);
export const oneLoad = (value: { mass_kg?: number | undefined; force_N?: number | undefined }): boolean =>
  (value.mass_kg === undefined) !== (value.force_N === undefined);
export const ONE_LOAD = "give the load once, as mass_kg or as force_N";

export interface VerbRule {
  readonly group: VerbGroup;
  /** false: never over MQTT, whatever the configuration says. A stream does not fit there, and a network is no place for a whole record. */
  readonly over_mqtt?: false;
  readonly args: z.ZodObject;
}

export type VerbGroup = "read" | "train" | "service";
