/**
 * What stands in an export, one object a line; protocol/EXPORT.md says it for people. Strict, because it is read: a key that
 * nobody knows is a fault. The published `set` inside stays open, as readers were promised.
 *
 * Only who reads a file needs these schemas; who writes one takes the types alone.
 */
import { z } from "zod";
import { calibrationRecordSchema, checkRecordSchema } from "../../calibration/record.ts";
import { count, instant, stationId, tagCode, traineeCode, uuid } from "../../protocol/messages/parts.ts";
import { setSchema } from "../../protocol/messages/set.ts";
import { planSchema } from "../../protocol/requests/plan.ts";
import { oneLine } from "../../protocol/requests/verb-parts.ts";

/** A file of a higher one is refused. Within one version kinds and fields stay what they are. */
export const FORMAT_VERSION = 1;

const claim = z.string().max(200).nullable();
/** Its name becomes part of a file's name. */
const ofStation = <T extends { readonly station: string }>(record: T): boolean =>
  stationId.safeParse(record.station).success;
const NO_STATION = { path: ["station"], message: "must be 1 to 40 of a-z, 0-9 and -" };

export const headerSchema = z.strictObject({
  kind: z.literal("tidemark-export"),
  format_version: z.literal(FORMAT_VERSION),
  /** The version of the program that wrote it. */
  program: z.string().max(100),
  /** Where it comes from. */
  store: uuid,
  recorder: z.string().max(100),
  site: z.string().max(100),
  exported_at: instant,
  /** null: everything. Else what is kept of this trainee, and nobody else's code. */
  trainee: traineeCode.nullable(),
});
export type Header = z.infer<typeof headerSchema>;

/** Far above any, and far below where a number would no longer be exact. */
const MOST_REVISIONS = 1_000_000;

const revision = {
  set: z.looseObject({
    ...setSchema.shape,
    revision: z.int().min(1).max(MOST_REVISIONS),
    note: oneLine.nullable(),
  }),
  /** Who changed it and when; null: the recorder itself, or nobody said. */
  performed_by: claim,
  revised_at: instant.nullable(),
} as const;

const setLineSchema = z.strictObject({
  kind: z.literal("set"),
  ...revision,
  /** How the trainee was set up, as text that is equal where the setup is; "" where there are no notes. */
  setup: z.string().max(16_000),
  /** The input log as it is stored, with its own format byte: RFC 4648 base64. */
  log: z.base64(),
  /** Revisions before, oldest first. */
  earlier: z.array(z.strictObject(revision)),
});
export type SetLine = z.infer<typeof setLineSchema>;
export type RevisionLine = SetLine["earlier"][number];

export const KINDS = ["calibration", "in-force", "check", "tag", "plan", "set"] as const;
export type Kind = (typeof KINDS)[number];

export const lineSchema = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("calibration"), record: calibrationRecordSchema.refine(ofStation, NO_STATION) }),
  z.strictObject({
    kind: z.literal("in-force"),
    station: stationId,
    calibration_id: uuid,
    at: instant,
    performed_by: claim,
  }),
  z.strictObject({ kind: z.literal("check"), record: checkRecordSchema.refine(ofStation, NO_STATION) }),
  z.strictObject({
    kind: z.literal("tag"),
    tag: tagCode,
    trainee: traineeCode,
    linked_at: instant,
    performed_by: claim,
  }),
  z.strictObject({ kind: z.literal("plan"), plan: planSchema }),
  setLineSchema,
]);
export type Line = z.infer<typeof lineSchema>;

export const endSchema = z.strictObject({
  kind: z.literal("end"),
  counts: z.strictObject({
    calibration: count,
    "in-force": count,
    check: count,
    tag: count,
    plan: count,
    set: count,
  }),
  /** Of every byte before this line, in lower-case hex. */
  sha256: z.string().regex(/^[0-9a-f]{64}$/, "must be 64 hex digits"),
});
export type End = z.infer<typeof endSchema>;
export type Counts = End["counts"];

/** The longest line, in bytes up to its LF. Fifteen minutes at 80 readings a second are 0.3 MB of it. */
export const LINE_CAP_BYTES = 16 * 1024 * 1024;
