/** What a station's records say of checks: which record is in force, and which sheet is the newest. Pure. */
import { z } from "zod";
import { type CalibrationRecord, calibrationRecordSchema, checkRecordSchema } from "../../../calibration/record.ts";
import { type Sheet, sheetOfCalibration, sheetOfCheck } from "../check-sheet/sheet.ts";

/** What the verb `calibrations` answers, as far as checks need it. A record of another version may say more. */
export const keptSchema = z.looseObject({
  in_force: z.string().nullable(),
  calibrations: z.array(z.object(calibrationRecordSchema.shape)),
  /** Absent: a recorder of before there were checks. */
  checks: z.array(z.object(checkRecordSchema.shape)).optional(),
  in_force_since: z.array(z.looseObject({ calibration_id: z.string(), at: z.string() })).optional(),
});
export type Kept = z.infer<typeof keptSchema>;

/** The record in force; null: none. */
export const recordInForce = ({ in_force, calibrations }: Kept): CalibrationRecord | null =>
  calibrations.find(({ calibration_id }) => calibration_id === in_force) ?? null;

/**
 * The newest sheet there is: of the newest kept check, or of the record in force where that is newer or nothing was
 * checked since; null: there is neither.
 */
export function newestSheet(kept: Kept): Sheet | null {
  const record = recordInForce(kept);
  const [check] = [...(kept.checks ?? [])].sort((a, b) => Date.parse(b.at) - Date.parse(a.at));
  const checked = kept.calibrations.find(({ calibration_id }) => calibration_id === check?.calibration_id);
  const newer = check !== undefined && (record === null || Date.parse(check.at) >= Date.parse(record.at));
  if (newer && checked !== undefined) return sheetOfCheck(check, checked);
  return record === null ? null : sheetOfCalibration(record, recordBefore(kept, record));
}

/** The record that was in force when another one was taken: the one its as-found checks were of. */
function recordBefore(
  { calibrations, in_force_since = [] }: Kept,
  record: CalibrationRecord,
): CalibrationRecord | null {
  const [before] = in_force_since
    .filter(
      ({ at, calibration_id }) => Date.parse(at) <= Date.parse(record.at) && calibration_id !== record.calibration_id,
    )
    .sort((a, b) => Date.parse(b.at) - Date.parse(a.at));
  return calibrations.find(({ calibration_id }) => calibration_id === before?.calibration_id) ?? null;
}
