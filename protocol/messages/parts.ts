/** Parts that several messages share. What we publish has open schemas: readers ignore what they do not know. */
import { z } from "zod";

export const stationId = z.string().regex(/^[a-z0-9-]{1,40}$/, "must be 1 to 40 of a-z, 0-9 and -");
export const traineeCode = z.string().regex(/^[A-Za-z0-9_-]{1,40}$/, "must be 1 to 40 of A-Z, a-z, 0-9, _ and -");
/** ISO 8601, UTC, milliseconds. */
export const instant = z.iso.datetime({ precision: 3 });
export const uuid = z.uuid();
/** 0..1 */
export const fraction = z.number().min(0).max(1);

/** What every payload carries. `at` is when it happened, fixed when stored; `boot` is new at every start of the recorder. */
export const envelope = {
  schema_version: z.literal(1),
  at: instant,
  clock_synced: z.boolean(),
  recorder: stationId,
  boot: uuid,
  simulated: z.boolean(),
} as const;

export const envelopeSchema = z.looseObject(envelope);
export type Envelope = z.infer<typeof envelopeSchema>;
