import { describe, expect, it } from "vitest";
import type { Kept } from "../../../../recorder/cli/records/kept.ts";
import { largestError, sayKept } from "../../../../recorder/cli/records/list.ts";
import { inventedCheck, inventedRecord } from "../../store/invented.ts";

const HOUSE = { unit: "N", time_zone: "Europe/Lisbon" } as const;
const DUE = "2027-06-01T12:00:00.000Z";
const record = inventedRecord(1, { due: DUE });
const kept: Kept = {
  in_force: record.calibration_id,
  due: DUE,
  calibrations: [record],
  checks: [],
  in_force_since: [],
};
const last = (changes: Partial<Kept>, after_days = 0): string | undefined =>
  sayKept({ ...kept, ...changes }, HOUSE, Date.parse(DUE) + after_days * 86_400_000)
    .split("\n\n")
    .at(-1);

describe("what is due is said in words", () => {
  it.each<[number, string]>([
    [-0.001, "The calibration in force is due on 2027-06-01."],
    [0, "The calibration in force is overdue: it was due on 2027-06-01, today. "],
    [1, "The calibration in force is overdue: it was due on 2027-06-01, a day ago. "],
    [12.9, "The calibration in force is overdue: it was due on 2027-06-01, 12 days ago. "],
  ])("%d days after its day", (days, text) => {
    expect(last({}, days)).toBe(days < 0 ? text : `${text}Check it with known loads, or calibrate again.`);
  });

  it("and so is that there is none in force, or that nobody said when", () => {
    expect(last({ in_force: null, due: null })).toMatch(/^None of them is in force: put one in force/);
    expect(last({ due: null })).toMatch(/^ +taken/);
    expect(last({ calibrations: [] })).toBe("no calibration is kept for this station");
  });
});

it("the largest error of a check has its sign, and there is none where nothing was hung", () => {
  const [load] = inventedCheck(1).checks;
  if (load === undefined) throw new Error("no load");
  const errors = [0.001, -0.004, null, 0.002].map((relative_error) => ({ ...load, relative_error }));
  expect(largestError({ checks: errors })).toBe(-0.004);
  expect(largestError({ checks: [{ ...load, relative_error: null }] })).toBeNull();
});
