import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { dayOf, monthsOn, readAngle, readDue, readTolerance } from "../../../recorder/cli/calibrate-dialog/answers.ts";

const KG_20 = { mass_kg: 20 };
const value = <T>(read: { ok: true; value: T } | { ok: false; message: string }): T | string =>
  read.ok ? read.value : read.message;

describe("how well a load is known", () => {
  // OIML R 111-1 for 20 kg: M1 1 g, M3 10 g.
  it.each([
    ["M1", 5e-5],
    ["m3", 5e-4],
    ["0.5", 0.005],
    ["0,5 %", 0.005],
    ["0", 0],
    ["10 %", 0.1],
  ])("%s", (typed, fraction) => {
    expect(value(readTolerance(typed, KG_20))).toBeCloseTo(fraction, 12);
  });

  it.each([
    ["good", "neither a class (E1, E2, F1, F2, M1, M2, M3) nor a percentage"],
    ["-1", "neither a class"],
    ["10.5", "weigh it"],
    ["1,000 %", "two ways"],
  ])("not %s", (typed, sentence) => {
    expect(value(readTolerance(typed, KG_20))).toContain(sentence);
  });

  it("has no class where it is a force", () => {
    expect(value(readTolerance("M1", { force_N: 200 }))).toContain("Classes are of masses");
  });
});

test.each([
  ["0", 0],
  ["-0", 0],
  ["-12.5", -12.5],
  ["+3,5 deg", 3.5],
  ["80", 80],
])("an angle: %s", (typed, degrees) => {
  expect(value(readAngle(typed))).toBe(degrees);
});
test.each(["", "-", "80.1", "ten", "1e1"])("no angle: %j", (typed) => {
  expect(readAngle(typed).ok).toBe(false);
});

describe("a day so many months on", () => {
  it.each([
    ["2026-11-27", 12, "2027-11-27"],
    ["2026-12-31", 2, "2027-02-28"],
    ["2028-02-29", 12, "2029-02-28"],
    ["2027-12-31", 2, "2028-02-29"],
    ["2026-01-31", 120, "2036-01-31"],
  ])("%s and %d", (day, months, later) => {
    expect(monthsOn(day, months)).toBe(later);
  });

  it("is always a day of the month that was meant", () => {
    const day = fc.date({ min: new Date("2000-01-01"), max: new Date("2100-01-01"), noInvalidDate: true });
    fc.assert(
      fc.property(day, fc.integer({ min: 0, max: 120 }), (date, months) => {
        const from = date.toISOString().slice(0, 10);
        const to = new Date(monthsOn(from, months));
        expect(to.getUTCFullYear() * 12 + to.getUTCMonth()).toBe(
          date.getUTCFullYear() * 12 + date.getUTCMonth() + months,
        );
        expect(to.getUTCDate()).toBeLessThanOrEqual(date.getUTCDate());
      }),
    );
  });
});

describe("when it is due", () => {
  const due = (typed: string, zone = "UTC") => value(readDue(typed, "2026-11-27", zone));

  it("is a day of the house, or months from today", () => {
    expect(due("2027-05-25")).toBe("2027-05-25T00:00:00.000Z");
    expect(due("2027-01-15", "Europe/Berlin")).toBe("2027-01-14T23:00:00.000Z");
    expect(due("12")).toBe("2027-11-27T00:00:00.000Z");
    expect(due("6 months")).toBe("2027-05-27T00:00:00.000Z");
  });

  it.each([
    ["soon", "soon is no day: write it as 2027-11-27, or a number of months."],
    ["2027-02-30", "2027-02-30 is no day"],
    ["27.11.2027", "is no day"],
    ["2026-11-27", "2026-11-27 is not after today, 2026-11-27: give a later day."],
    ["0", "0 months will not do: give 1 to 120, or a day."],
    ["121", "121 months will not do"],
  ])("is not %s", (typed, sentence) => {
    expect(due(typed)).toContain(sentence);
  });

  it("today is the house's", () => {
    expect(dayOf(Date.parse("2026-11-27T23:30:00Z"), "Europe/Berlin")).toBe("2026-11-28");
  });
});
