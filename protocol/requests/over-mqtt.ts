/**
 * Requests over MQTT: what travels beside a verb's own fields, where each verb is asked, and what comes back. Rights are
 * given by topic, so a topic says whose matter a request is, and nothing in the payload can widen it.
 */
import { z } from "zod";
import { envelope, stationId, uuid } from "../messages/parts.ts";
import type { Owner } from "../messages/topics.ts";
import { ERROR_CODES } from "../vocabulary.ts";
import { VERBS, type Verb, type VerbRule } from "./verbs.ts";

/** Payloads up to this are read, in bytes: as long as a line through a socket. */
export const REQUEST_BYTES = 64 * 1024;

/** One level of a topic: it is where the answer goes. */
export const askerName = z
  .string()
  .regex(/^[A-Za-z0-9._@-]{1,40}$/, "must be the broker user's name, 1 to 40 of A-Z, a-z, 0-9, ., _, @ and -");

const ruleOf = (verb: Verb): VerbRule => VERBS[verb];

/** What a verb does with the station of its topic. */
export type StationField = "required" | "optional" | "none";

export function stationField(verb: Verb): StationField {
  const field = ruleOf(verb).args.shape["station"];
  if (field === undefined) return "none";
  return z.safeParse(field, undefined).success ? "optional" : "required";
}

/**
 * The topics a verb is asked at; none: never over MQTT. What needs a station is asked at its topic and nowhere else, so that
 * a right to it is given station by station; what is of all stations, at the recorder's, so that no station's right gives it.
 */
export function ownersOf(verb: Verb): readonly Owner[] {
  const { over_mqtt, args } = ruleOf(verb);
  if (over_mqtt === false) return [];
  if (stationField(verb) === "required") return ["station"];
  // A set is of one station.
  return stationField(verb) === "optional" || "set_id" in args.shape ? ["station", "recorder"] : ["recorder"];
}

/** The name under which a request says when it was asked: `at`, unless the verb means something of its own by that. */
export const askedAtField = (verb: Verb): "at" | "asked_at" => ("at" in ruleOf(verb).args.shape ? "asked_at" : "at");

const askedAt = z.iso
  .datetime({ offset: true })
  .describe("When it was asked. An acting request over 10 s old is refused as expired, if both clocks are synced.");

const requestFields = {
  schema_version: z.literal(1).optional(),
  request_id: uuid.describe(
    "New for each request. A repetition, the same but for when it was asked, is answered with the first answer.",
  ),
  asker: askerName.describe(
    "The broker user's name. The answer goes to .../response/{asker}/{request_id}; who may read there is the broker's to say.",
  ),
  clock_synced: z.boolean().describe("Whether the asker's clock has been set from somewhere; absent: no.").optional(),
} as const;

const envelopes = {
  at: z.looseObject({ ...requestFields, at: askedAt.optional() }),
  asked_at: z.looseObject({ ...requestFields, asked_at: askedAt.optional() }),
} as const;

/** What is beside the verb's own fields, which are for the verb's schema to check. */
export const envelopeSchema = (verb: Verb): z.ZodObject => envelopes[askedAtField(verb)];

/** A whole request payload: strict, as everything that we read. */
export function mqttRequestSchema(verb: Verb): z.ZodObject {
  const { shape } = ruleOf(verb).args;
  const station = stationId.optional().describe("The topic's. May be left out; another one is refused there.");
  const fromTopic = stationField(verb) === "none" ? {} : { station };
  return z.strictObject({ ...envelopeSchema(verb).shape, ...shape, ...fromTopic });
}

const answered = { ...envelope, request_id: uuid } as const;

/** What is published to whoever asked. */
export const mqttResponseSchema = z.union([
  z.looseObject({
    ...answered,
    ok: z.literal(true),
    result: z.looseObject({}).describe("As the verb says."),
  }),
  z.looseObject({
    ...answered,
    ok: z.literal(false),
    error: z.looseObject({
      code: z.enum(ERROR_CODES).describe("Show one you do not know as text."),
      message: z.string().describe("What is wrong, in one sentence."),
      hint: z.string().describe("What would do.").optional(),
    }),
  }),
]);
