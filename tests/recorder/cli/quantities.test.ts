import { describe, expect, test } from "vitest";
import { type House, sayField, sayForce, sayName, sayPercent } from "../../../recorder/cli/quantities.ts";
import { sayTable } from "../../../recorder/cli/table.ts";
import { instantOf, sayInstant } from "../../../recorder/drawing/instants.ts";

const NEWTONS: House = { unit: "N", time_zone: "UTC" };

describe("a field says by its name what it holds", () => {
  test.each<[string, unknown, string, string]>([
    ["best_force_N", 1034.25, "best force", "1034.3 N"],
    ["expanded_uncertainty_N", null, "expanded uncertainty", "-"],
    ["impulse_N_s", 7800.4, "impulse", "7800 N s"],
    ["duration_s", 28.512, "duration", "28.5 s"],
    ["reading_rate_Hz", 80.02, "reading rate", "80.0 Hz"],
    ["force_loss", 0.4187, "force loss", "41.9 %"],
    ["decline_per_s", 0.01468, "decline per s", "1.47 % of best"],
    ["decline_per_effort", 0.2094, "decline per effort", "20.94 % of best"],
    ["started_at", "2026-11-24T17:03:12.000Z", "started", "2026-11-24 17:03:12"],
    ["warm_up", true, "warm up", "yes"],
    ["void", false, "void", "no"],
    ["set_of_day", 2, "set of day", "2"],
    ["style", "hold", "style", "hold"],
    ["setup", { seat: "4" }, "setup", '{"seat":"4"}'],
    ["not_heard", undefined, "not heard", "-"],
  ])("%s", (name, value, label, text) => {
    expect([sayName(name), sayField(name, value, NEWTONS)]).toEqual([label, text]);
  });
});

test("forces in the unit of the house", () => {
  // 9.80665 N is one kilogram-force by definition (3rd CGPM, 1901); 4.4482216152605 N one pound-force, from the
  // international pound of 1959.
  expect(sayForce(980.665, { ...NEWTONS, unit: "kgf" })).toBe("100.0 kgf");
  expect(sayForce(444.82216152605, { ...NEWTONS, unit: "lbf" })).toBe("100.0 lbf");
  expect(sayForce(980.665, NEWTONS, 0)).toBe("981 N");
});

test("no share is not less than none", () => {
  expect([-1e-9, -0.00004, -0.00006, -0.1].map((share) => sayPercent(share, 2))).toEqual([
    "0.00 %",
    "0.00 %",
    "-0.01 %",
    "-10.00 %",
  ]);
});

test("no force is not less than none", () => {
  expect([-0.4, -0.6, -10].map((force_N) => sayForce(force_N, NEWTONS, 0))).toEqual(["0 N", "-1 N", "-10 N"]);
  expect([-0.04, -0.06].map((force_N) => sayForce(force_N, NEWTONS))).toEqual(["0.0 N", "-0.1 N"]);
});

describe("instants in the time of the house", () => {
  // Offsets and dates of change: IANA time zone database (Europe/Lisbon: summer time ends 2026-10-25 01:00 UTC).
  test.each([
    ["2026-10-25T00:30:00.000Z", "Europe/Lisbon", "2026-10-25 01:30:00"],
    ["2026-10-25T01:30:00.000Z", "Europe/Lisbon", "2026-10-25 01:30:00"],
    ["2026-11-24T20:00:00.000Z", "Asia/Kathmandu", "2026-11-25 01:45:00"],
    ["2026-11-24T20:00:00.000Z", "America/St_Johns", "2026-11-24 16:30:00"],
    ["some day", "UTC", "some day"],
  ])("%s in %s", (instant, zone, text) => {
    expect(sayInstant(instant, zone)).toBe(text);
  });

  test.each<[string, string, "start" | "end", string]>([
    ["2026-11-24", "UTC", "start", "2026-11-24T00:00:00.000Z"],
    ["2026-11-24", "UTC", "end", "2026-11-25T00:00:00.000Z"],
    ["2026-07-01", "Europe/Lisbon", "start", "2026-06-30T23:00:00.000Z"],
    // The day the clocks go back has 25 hours.
    ["2026-10-25", "Europe/Lisbon", "start", "2026-10-24T23:00:00.000Z"],
    ["2026-10-25", "Europe/Lisbon", "end", "2026-10-26T00:00:00.000Z"],
    ["2026-11-24", "Pacific/Auckland", "start", "2026-11-23T11:00:00.000Z"],
    // New Zealand's summer time began 2026-09-27 02:00 local: midnight before it is still twelve hours ahead.
    ["2026-09-27", "Pacific/Auckland", "start", "2026-09-26T12:00:00.000Z"],
    ["2026-09-27", "Pacific/Auckland", "end", "2026-09-27T11:00:00.000Z"],
    ["2026-11-24T10:00:00+01:00", "UTC", "end", "2026-11-24T10:00:00+01:00"],
    ["2026-13-45", "UTC", "start", "2026-13-45"],
    ["yesterday", "UTC", "start", "yesterday"],
  ])("%s in %s, its %s", (typed, zone, edge, instant) => {
    expect(instantOf(typed, zone, edge)).toBe(instant);
  });
});

test("columns are as wide as their widest, numbers end under each other", () => {
  expect(
    sayTable(
      [
        ["a", "bb", "c"],
        ["long", "1", ""],
      ],
      [1],
    ),
  ).toBe("a     bb  c\nlong   1");
  expect(sayTable([])).toBe("");
});
