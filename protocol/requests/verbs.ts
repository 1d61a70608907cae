/**
 * The verbs of control: one strict schema each, the same for every door. What we read is strict: an unknown field is
 * a `bad-request`. Forces N, times s, fractions 0..1, masses kg, angles degrees.
 */
import { z } from "zod";
import { stationId, tagCode, traineeCode, uuid } from "../messages/parts.ts";
import { ENDED_BECAUSE, INTENTS, LOADINGS, SIDES, STYLES } from "../vocabulary.ts";

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

const at = { station: stationId } as const;
/** A code of who acts: a claim, stored. */
const by = { performed_by: traineeCode.optional() } as const;
const acting = { station: stationId, ...by } as const;

/** As the trainee says it. */
const outOfTen = z.number().min(0).max(10);

/** Shown as it is, in terminals and on screens: nothing in it may steer one or break its line, and half a character is none. */
const oneLine = z
  .string()
  .min(1)
  .max(2000)
  .regex(/^[^\p{Cc}\p{Cs}\p{Zl}\p{Zp}]*$/u, "must be one line of text");

/** What a person may set right in a kept set. null clears; what is left out stays as it is. */
const amendable = {
  trainee: traineeCode.nullable().optional(),
  side: z.enum(SIDES).nullable().optional(),
  warm_up: z.boolean().optional(),
  void: z.boolean().optional(),
  pain: outOfTen.nullable().optional(),
  exertion: outOfTen.nullable().optional(),
  note: oneLine.nullable().optional(),
} as const;
const someChange = (value: object): boolean => Object.keys(amendable).some((name) => Object.hasOwn(value, name));
const SOME_CHANGE = `give at least one of ${Object.keys(amendable).join(", ")}`;

const load = {
  mass_kg: z.number().positive().max(20_000).optional(),
  force_N: z.number().positive().max(200_000).optional(),
  relative_tolerance: z.number().min(0).max(0.1).optional(),
  at: z.enum(["handle", "cell"]).optional(),
  lever_angle_deg: z.number().min(-80).max(80).optional(),
} as const;
/** How a load was reached: from less, or from more. What friction holds back stands between the two. */
const loading = z.enum(LOADINGS);
const oneLoad = (value: { mass_kg?: number | undefined; force_N?: number | undefined }): boolean =>
  (value.mass_kg === undefined) !== (value.force_N === undefined);
const ONE_LOAD = "give the load once, as mass_kg or as force_N";

export const VERBS = {
  status: { group: "read", args: z.strictObject({ station: stationId.optional() }) },
  sets: {
    group: "read",
    args: z.strictObject({
      station: stationId.optional(),
      trainee: traineeCode.optional(),
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
          "At most so many. A page also ends at 512 KiB, so that no station waits for it; the answer's `more` says whether others fit. With from_set_seq, go on from the set_seq after its last one. Without, it holds the newest: go on with before_set_seq, its first one.",
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
  begin: {
    group: "train",
    args: z.strictObject({
      ...acting,
      trainee: traineeCode.optional(),
      side: z.enum(SIDES).optional(),
      exercise: z.string().min(1).max(60).optional(),
      style: z.enum(STYLES).optional(),
      intent: z.enum(INTENTS).optional(),
      fatigue_threshold: z.number().min(0.1).max(0.75).optional(),
      warm_up: z.boolean().optional(),
      options: beginOptions.optional(),
    }),
  },
  end: { group: "train", args: z.strictObject({ ...acting, because: z.enum(ENDED_BECAUSE).optional() }) },
  zero: { group: "train", args: z.strictObject({ ...acting, confirm: z.boolean().optional() }) },
  resting: { group: "train", args: z.strictObject(acting) },
  amend: {
    group: "train",
    args: z.strictObject({ set_id: uuid, ...by, ...amendable }).refine(someChange, SOME_CHANGE),
  },
  /** null unlinks: the tag then stands for the trainee of its own code. */
  "tag-save": { group: "train", args: z.strictObject({ tag: tagCode, trainee: traineeCode.nullable(), ...by }) },
  "calibration-begin": { group: "service", args: z.strictObject(acting) },
  "calibration-zero": { group: "service", args: z.strictObject(acting) },
  "calibration-load": {
    group: "service",
    args: z.strictObject({ ...acting, ...load, loading: loading.optional() }).refine(oneLoad, ONE_LOAD),
  },
  /** Before a new load point: what the record in force says of it, as found. After: what the new scale says, as left. */
  "calibration-check": {
    group: "service",
    args: z
      .strictObject({
        ...acting,
        ...load,
        force_N: z
          .number()
          .min(0)
          .max(200_000)
          .optional()
          .describe("0: with nothing on, where a series begins and ends."),
        loading,
        series: z.int().min(1).max(3).optional(),
      })
      .refine(oneLoad, ONE_LOAD),
  },
  "calibration-accept": {
    group: "service",
    args: z.strictObject({
      ...acting,
      note: oneLine.optional(),
      due: z.iso.datetime({ offset: true }).optional(),
    }),
  },
  "calibration-abandon": { group: "service", args: z.strictObject(acting) },
  /** Puts a kept record in force again. */
  "calibration-use": { group: "service", args: z.strictObject({ ...acting, calibration_id: uuid }) },
  /** A record of elsewhere, or of before: kept, and not in force until somebody says calibration-use. */
  import: {
    group: "service",
    over_mqtt: false,
    args: z.strictObject({ ...by, calibration: z.record(z.string(), z.unknown()) }),
  },
  /** Readings at rest, for whoever looks after the sensor; the station is taken meanwhile. */
  "self-test": {
    group: "service",
    over_mqtt: false,
    args: z.strictObject({
      ...acting,
      duration_s: z.number().min(2).max(60).default(10),
      lamps: z.boolean().default(false).describe("Both lamps are lit for a second each, for somebody to see."),
    }),
  },
  inspected: { group: "service", args: z.strictObject(acting) },
} as const satisfies Record<string, VerbRule>;

export interface VerbRule {
  readonly group: VerbGroup;
  /** false: never over MQTT, whatever the configuration says. A stream does not fit there, and a network is no place for a whole record. */
  readonly over_mqtt?: false;
  readonly args: z.ZodObject;
}

export type VerbGroup = "read" | "train" | "service";
export type Verb = keyof typeof VERBS;
/** The checked arguments of one verb. */
export type ArgsOf<V extends Verb> = z.infer<(typeof VERBS)[V]["args"]>;
export type BeginArgs = ArgsOf<"begin">;

export const isVerb = (name: unknown): name is Verb => typeof name === "string" && Object.hasOwn(VERBS, name);

/** The verbs that act on a station; the others act on the record. */
export type StationVerb = {
  [V in Verb]: (typeof VERBS)[V]["group"] extends "read" ? never : ArgsOf<V> extends { station: string } ? V : never;
}[Verb];
/** A checked request to a station. */
export type StationRequest = { [V in StationVerb]: { readonly verb: V; readonly args: ArgsOf<V> } }[StationVerb];
