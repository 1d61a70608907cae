/**
 * One trainee's own data, to hand over or to take along: nobody else's code is in it, a trainer's or a technician's as little
 * as another trainee's. Who asked for something is said there by a claim, so claims are left out; what was measured is all there.
 */
import type { CalibrationRecord } from "../../calibration/record.ts";
import type { InputLog } from "../ports.ts";
import type { RevisionLine, SetLine } from "./export-lines.ts";
import { decodeInputLog, encodeInputLog } from "./input-log.ts";

/** The set with the log written anew: its head says who armed the set for whom, and a set may have been somebody else's first. */
export function setOfTrainee(line: SetLine, trainee: string): SetLine {
  const decoded = decodeInputLog(Buffer.from(line.log, "base64"));
  if (!decoded.ok) throw new Error(decoded.message);
  const own = ({ set }: RevisionLine): boolean => set.trainee === trainee || set.trainee === null;
  return {
    ...line,
    performed_by: null,
    log: Buffer.from(encodeInputLog(logOfTrainee(decoded.log, trainee))).toString("base64"),
    earlier: line.earlier.filter(own).map((revision) => ({ ...revision, performed_by: null })),
  };
}

/** The record as it is, but for who took it. */
export const withoutClaim = (record: CalibrationRecord): CalibrationRecord => ({ ...record, performed_by: null });

const logOfTrainee = (log: InputLog, trainee: string): InputLog => ({
  ...log,
  arm: withoutOthers(log.arm, trainee),
  events: log.events.map(({ before, event }) => ({ before, event: withoutOthers(event, trainee) })),
});

/** Wherever it stands: what a log says belongs to another room, and to other versions. */
function withoutOthers(value: unknown, trainee: string): unknown {
  if (Array.isArray(value)) return value.map((each) => withoutOthers(each, trainee));
  if (typeof value !== "object" || value === null) return value;
  const fields = Object.entries(value).map(([name, field]) => {
    if (name === "performed_by") return [name, null];
    if (name === "trainee") return [name, field === null ? null : trainee];
    return [name, withoutOthers(field, trainee)];
  });
  return Object.fromEntries(fields);
}
