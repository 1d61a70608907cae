/** Parts that several messages share. What we publish has open schemas: readers ignore what they do not know. */
import { z } from "zod";

export const stationId = z.string().regex(/^[a-z0-9-]{1,40}$/, "must be 1 to 40 of a-z, 0-9 and -");
export const traineeCode = z.string().regex(/^[A-Za-z0-9_-]{1,40}$/, "must be 1 to 40 of A-Z, a-z, 0-9, _ and -");
/** What a tag on the wristband or key ring says, as a board passes it on. */
export const tagCode = z.string().regex(/^[A-Za-z0-9._/-]{1,32}$/, "must be 1 to 32 of A-Z, a-z, 0-9, ., _, / and -");
/** ISO 8601, UTC, milliseconds. */
export const instant = z.iso.datetime({ precision: 3 });
export const uuid = z.uuid();
/** 0..1 */
export const fraction = z.number().min(0).max(1);
/** A whole number from 0 up. */
export const count = z.int().min(0);

/**
 * What every payload carries. Descriptions, here and in every message, travel into the generated documents: they are
 * what a reader of the wire gets to see.
 */
export const envelope = {
  schema_version: z.literal(1).describe("Fields are only ever added within one version."),
  at: instant.describe("When it happened, fixed when stored: a payload sent again is byte-equal."),
  clock_synced: z.boolean().describe("False while the recorder has not had the time of day from anywhere."),
  recorder: stationId.describe("The recorder that says so."),
  boot: uuid.describe("New at every start of the recorder."),
  simulated: z.boolean().describe("True for everything that comes from the simulated gym."),
} as const;

export const envelopeSchema = z.looseObject(envelope);
export type Envelope = z.infer<typeof envelopeSchema>;
