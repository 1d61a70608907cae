/** What the recorder keeps of a station's calibration, asked for once; and one record found by what a person typed of its id. */
import { z } from "zod";
import { calibrationRecordSchema, checkRecordSchema } from "../../../calibration/record.ts";
import { calibrationsResultSchema } from "../../../protocol/requests/results.ts";
import { ask } from "../client.ts";
import { DID_NOT_HOLD, type Failure, wrongUsage } from "../command.ts";
import type { Settings } from "../settings.ts";

/** Open, as everything that is answered: a newer recorder's record has fields that this program only passes on. */
export const keptSchema = calibrationsResultSchema.extend({
  calibrations: z.array(z.looseObject(calibrationRecordSchema.shape)),
  checks: z.array(z.looseObject(checkRecordSchema.shape)),
});
export type Kept = z.infer<typeof keptSchema>;
export type KeptRecord = Kept["calibrations"][number];
export type KeptCheck = Kept["checks"][number];
export type KeptZeros = NonNullable<Kept["zeros"]>;

export type Asked =
  | { readonly ok: true; readonly kept: Kept; readonly raw: unknown }
  | { readonly ok: false; readonly failure: Failure };

export async function askKept(station: string, zeros: boolean, { socket }: Settings): Promise<Asked> {
  const args = zeros ? { station, zeros } : { station };
  const reply = await ask({ path: socket, verb: "calibrations", args });
  if (!reply.ok) return reply;
  const read = keptSchema.safeParse(reply.result);
  if (read.success) return { ok: true, kept: read.data, raw: reply.result };
  const message = "the recorder answered with what this version of tidemark cannot read: use the one that runs there";
  return { ok: false, failure: { exit: DID_NOT_HOLD, message } };
}

/** Nobody types a UUID; four characters are seldom two records'. */
const SHORTEST = 4;

export type Found =
  | { readonly ok: true; readonly record: KeptRecord }
  | { readonly ok: false; readonly failure: Failure };

export function findRecord(typed: string, records: readonly KeptRecord[]): Found {
  const no = (failure: Failure): Found => ({ ok: false, failure });
  if (typed.length < SHORTEST) {
    return no(wrongUsage(`${typed} is too short for an id: give at least its first ${SHORTEST} characters`));
  }
  const meant = typed.toLowerCase();
  const [record, ...more] = records.filter(({ calibration_id }) => calibration_id.startsWith(meant));
  if (record === undefined) {
    const message = `no calibration of this station begins with ${typed}: \`tidemark calibrations STATION\` lists them`;
    return no({ exit: DID_NOT_HOLD, message });
  }
  if (more.length === 0) return { ok: true, record };
  const ids = [record, ...more].map(({ calibration_id }) => calibration_id).join(", ");
  return no(wrongUsage(`${typed} may be any of ${ids}: give more of it`));
}

/** A check and the record it was a check of, where the typed characters are of that check alone; null: they are not. */
export function findCheck(
  typed: string,
  { calibrations, checks }: Kept,
): { readonly check: KeptCheck; readonly record: KeptRecord } | null {
  const [check, ...more] = checks.filter(
    ({ check_id }) => typed.length >= SHORTEST && check_id.startsWith(typed.toLowerCase()),
  );
  const record = calibrations.find(({ calibration_id }) => calibration_id === check?.calibration_id);
  return check === undefined || record === undefined || more.length > 0 ? null : { check, record };
}

/** As much of an id as a person needs to tell it from its neighbours. */
export const shortId = (id: string): string => id.slice(0, 8);
