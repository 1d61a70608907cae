import { describe, expect, test } from "vitest";
import type { CalibrationRecord, CheckRecord } from "../../../calibration/record.ts";
import { type Kept, keptSchema, newestSheet, recordInForce } from "../../../recorder/cli/check-dialog/kept.ts";
import { exitOf } from "../../../recorder/cli/check-dialog/outcome.ts";
import { sheetOfCheck } from "../../../recorder/cli/check-sheet/sheet.ts";
import { CLAIM, check } from "../../calibration/check-report/made-checks.ts";
import { CALIBRATION } from "../control/fake-gym.ts";

const id = (last: string): string => `5f0c5e2e-0000-4000-8000-0000000000${last}`;
const record = (last: string, day: string, more: Partial<CalibrationRecord> = {}): CalibrationRecord => ({
  ...CALIBRATION,
  ...CLAIM,
  calibration_id: id(last),
  at: `2026-${day}T08:00:00.000Z`,
  ...more,
});
const checked = (last: string, of: string, day: string, indicated_N = 1600): CheckRecord => ({
  check_version: 1,
  check_id: id(last),
  calibration_id: id(of),
  station: "leg-press",
  at: `2026-${day}T08:00:00.000Z`,
  performed_by: null,
  checks: [check(1600, indicated_N)],
  zero_shift_N: 0,
  due: null,
  note: null,
});
const kept = (more: Partial<Kept>): Kept =>
  keptSchema.parse({ in_force: id("a2"), calibrations: [record("a2", "10-02"), record("a1", "09-01")], ...more });

describe("the newest sheet", () => {
  test("is the newest check's, with the record it was a check of", () => {
    const checks = [checked("c1", "a2", "11-01"), checked("c2", "a2", "11-20"), checked("c3", "a1", "09-20")];
    expect(newestSheet(kept({ checks }))).toMatchObject({
      check: { check_id: id("c2") },
      record: { calibration_id: id("a2") },
    });
  });

  test("is the record's in force where nothing was checked since", () => {
    const checks = [checked("c3", "a1", "09-20")];
    expect(newestSheet(kept({ checks }))).toMatchObject({ check: null, record: { calibration_id: id("a2") } });
  });

  test("judges what was found before a calibration by the record of then", () => {
    const sharp = { ...record("a1", "09-01"), expanded_uncertainty_N: 1 };
    const now = record("a2", "10-02", { checks: [check(1600, 1608)] });
    const in_force_since = [
      { calibration_id: id("a2"), at: "2026-10-02T08:00:00.100Z" },
      { calibration_id: id("a1"), at: "2026-09-01T08:00:00.100Z" },
    ];
    const calibrations = [now, record("a0", "09-20"), sharp];
    const of = (more: Partial<Kept>) => newestSheet(kept({ calibrations, ...more }))?.parts[0]?.report.verdict?.is;
    expect(of({ in_force_since })).toBe("drifted");
    expect(of({})).toBe("holds");
  });

  test("is none where there is no record, whatever was left of checks", () => {
    expect(newestSheet(kept({ in_force: null, calibrations: [] }))).toBeNull();
    expect(newestSheet(kept({ in_force: null, calibrations: [], checks: [checked("c1", "a1", "11-01")] }))).toBeNull();
    expect(recordInForce(kept({ in_force: null }))).toBeNull();
  });

  test("a recorder of before there were checks is understood", () => {
    expect(newestSheet(kept({}))).toMatchObject({ check: null, parts: [] });
  });
});

test.each([
  [1600, 0],
  [1625, 0],
  [1650, 1],
])("a load of 1600 N read as %d N exits %d", (indicated_N, exit) => {
  const sheet = sheetOfCheck(checked("c1", "a2", "11-01", indicated_N), record("a2", "10-02"));
  expect(exitOf(sheet.parts[0]?.report)).toBe(exit);
});
