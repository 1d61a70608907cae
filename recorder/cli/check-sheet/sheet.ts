/** What stands on a sheet: of a kept check, or of a calibration with the checks taken beside it. Pure. */
import { type CheckReport, reportOf } from "../../../calibration/check-report/report.ts";
import type { Claim } from "../../../calibration/check-report/verdict.ts";
import type { CalibrationRecord, Check, CheckRecord } from "../../../calibration/record.ts";

export interface SheetPart {
  readonly report: CheckReport;
  /** In the order they were taken. */
  readonly checks: readonly Check[];
  /** The record that was checked. */
  readonly claim: Claim;
}

export interface Sheet {
  readonly record: CalibrationRecord;
  /** null: the sheet is of the calibration itself. */
  readonly check: CheckRecord | null;
  /** As found, then as left, as far as they were taken. */
  readonly parts: readonly SheetPart[];
}

/** Of a check that was kept, and the record it was a check of. */
export function sheetOfCheck(check: CheckRecord, record: CalibrationRecord): Sheet {
  return { record, check, parts: partsOf(check.checks, [["as-found", record]]) };
}

/**
 * Of an accepted calibration. What was found before it is judged by the record that was in force then; where that one is
 * not known, by this one's claim.
 */
export function sheetOfCalibration(record: CalibrationRecord, before: CalibrationRecord | null): Sheet {
  const whose = [
    ["as-found", before ?? record],
    ["as-left", record],
  ] as const;
  return { record, check: null, parts: partsOf(record.checks ?? [], whose) };
}

function partsOf(
  checks: readonly Check[],
  whose: readonly (readonly [Check["when"], CalibrationRecord])[],
): readonly SheetPart[] {
  return whose.flatMap(([when, claim]) => {
    const report = reportOf(checks, when, claim);
    return report === null ? [] : [{ report, claim, checks: checks.filter((check) => check.when === when) }];
  });
}
