import { describe, expect, test } from "vitest";
import type { CalibrationRecord, Check, CheckRecord } from "../../../calibration/record.ts";
import { calibrationRecordSchema } from "../../../calibration/record.ts";
import { htmlSheet } from "../../../recorder/cli/check-sheet/html-sheet.ts";
import { type Sheet, sheetOfCalibration, sheetOfCheck } from "../../../recorder/cli/check-sheet/sheet.ts";
import { textSheet } from "../../../recorder/cli/check-sheet/text-sheet.ts";
import type { House } from "../../../recorder/cli/quantities.ts";
import { CLAIM, check, upSeries } from "../../calibration/check-report/made-checks.ts";
import { frozen } from "../../calibration/frozen.ts";

const HOUSE: House = { unit: "N", time_zone: "Europe/Lisbon" };
const RECORD: CalibrationRecord = calibrationRecordSchema.parse({
  record_version: 1,
  calibration_id: "5f0c5e2e-0000-4000-8000-0000000000cc",
  station: "leg-press",
  at: "2026-10-01T09:00:00.000Z",
  performed_by: "P-01",
  zero_counts: 50_000,
  points: [
    { force_N: 0, mass_kg: null, ...window(50_000) },
    {
      force_N: 1600,
      mass_kg: null,
      ...window(210_000),
      applied: { at: "cell", lever_angle_deg: null, relative_tolerance: 0.001 },
    },
  ],
  ...CLAIM,
  board: "press-left",
  amplifier: "hx711",
  gain: 128,
  cell: "A-17",
  due: null,
  note: null,
});

function window(mean_counts: number) {
  return { mean_counts, standard_error_counts: 0.2, noise_counts: 1, readings: 240 };
}

const LEVELS_N = [400, 800, 1200, 1600, 2000];
const CHECKS: readonly Check[] = [
  check(0, 0.3),
  ...upSeries(LEVELS_N, [
    [0.9, 0.4, 0.3, 0.2, 0.25],
    [0.6, 0.3, 0.35, 0.1, 0.2],
    [0.5, 0.45, 0.2, 0.25, 0.3],
  ]),
  ...LEVELS_N.slice(0, -1).map((force_N) => check(force_N, force_N * 1.004 + 2, { loading: "decreasing" })),
  check(0, 1.2, { loading: "decreasing" }),
];

const sheetOf = (more: Partial<CheckRecord> = {}, record = RECORD): Sheet =>
  sheetOfCheck(
    frozen({
      check_version: 1,
      check_id: "5f0c5e2e-0000-4000-8000-0000000000c1",
      calibration_id: record.calibration_id,
      station: record.station,
      at: "2026-07-25T10:00:00.000Z",
      performed_by: "tech-1",
      checks: [...CHECKS],
      zero_shift_N: -0.31,
      due: "2027-05-25T00:00:00.000Z",
      note: null,
      ...more,
    }),
    record,
  );
const marks = (html: string): number => (html.match(/<polygon points="[^"]*" fill="#(000|fff)"/g) ?? []).length;

describe("the sheet as text", () => {
  test("fits 80 columns whatever the notes and names are", () => {
    const long = "x".repeat(300);
    const made = textSheet(sheetOf({ note: `${long} ${"word ".repeat(60)}`, performed_by: long.slice(0, 40) }), HOUSE);
    expect(made.split("\n").filter((line) => [...line].length > 80)).toEqual([]);
    expect(made.replaceAll(/\s/g, "")).toContain(long);
  });

  test("tells who, when in the time of the house, on what and by which record", () => {
    expect(textSheet(sheetOf({ note: "bolt tightened" }), HOUSE)).toMatch(
      new RegExp(
        [
          "^Check with known loads: leg-press\n=+\n",
          "station      leg-press",
          "taken        2026-07-25 11:00:00 Europe/Lisbon",
          "by           tech-1",
          "check        5f0c5e2e-0000-4000-8000-0000000000c1",
          "zero in use  -0.31 N from the calibrated one",
          "due again    2027-05-25",
          "note         bolt tightened",
          "record       5f0c5e2e-0000-4000-8000-0000000000cc",
          "record of    2026-10-01 10:00:00, by P-01",
          "claims       10.00 N \\(0.50 %, k = 2\\) at 2000 N",
          "board        press-left",
          "amplifier    hx711, gain 128",
          "cell         A-17, capacity 5000 N\n",
        ].join("\n"),
      ),
    );
  });

  test("holds every run, every level, the return to zero, the resolution, the class and the verdict", () => {
    const made = textSheet(sheetOf(), HOUSE);
    expect(made).toContain(" 400.00 N  up         1   403.60 N  +3.60 N  +0.90 %");
    expect(made).toContain("1600.00 N  down       1  1608.40 N  +8.40 N  +0.53 %");
    expect(made.match(/ (up|down) +[123] /g)).toHaveLength(19);
    expect(made).toMatch(/^ *800\.0 N +40 % +\+0\.38 % +0\.15 % +\+0\.25 % +0\.004 % +0\.10 % +0\.92 N$/m);
    expect(made).toContain("With nothing on, series 1: before +0.30 N, after +1.20 N, return +0.90 N.");
    expect(made).toContain("Zero return 0.045 % of the highest force at worst.");
    expect(made).toContain("Resolution 0.030 N:");
    expect(made).toContain("Within the limits of class 0.5 over 40..100 % of 2 kN and of class 1 over\n20..100 %.");
    expect(made).toContain("Drifted, usable: calibrate soon.");
  });

  test("says what it is not, and how loads are hung", () => {
    const made = textSheet(sheetOf(), HOUSE).replaceAll(/\s+/g, " ");
    for (const not of [
      "calibration certificate",
      "traceable by itself",
      "verification to ISO 7500-1",
      "legal weighing",
    ]) {
      expect(made).toMatch(new RegExp(`- Not [^-]*${not}`));
    }
    expect(made).toContain("nobody stands or reaches under a hanging load");
    expect(made).toContain("Local rules and licensed practice come first");
  });

  test("speaks the unit of the house, and percentages stay", () => {
    const made = textSheet(sheetOf(), { ...HOUSE, unit: "lbf" });
    // 400 N and 3.6 N over 4.4482216152605 N a pound-force.
    expect(made).toContain("89.92 lbf  up         1   90.73 lbf  +0.81 lbf  +0.90 %");
  });

  test("nothing in it steers a terminal", () => {
    const made = textSheet(sheetOf({ note: "a\u001b[31mb\u2028c" }), HOUSE);
    expect(made).toContain("a?[31mb?c");
  });

  test("of a calibration: its scale, points and budget, as found and as left", () => {
    const before = { ...RECORD, expanded_uncertainty_N: 4 };
    const checks = [check(1600, 1640), check(800, 800.5, { when: "as-left" })];
    const record = { ...RECORD, checks, friction_N: 1.25, note: "new cell" };
    const made = textSheet(sheetOfCalibration(record, before), HOUSE);
    expect(made).toMatch(/^Calibration: leg-press\n/);
    expect(made).toContain("scale     100 counts/N\nzero      50000.0 counts\nfriction  1.25 N\n");
    expect(made).toMatch(/^ +a force +1600\.00 N +- +210000\.0 +0\.20 +0\.10 %$/m);
    expect(made).toMatch(/^load tolerance +5\.000 N +in proportion to force$/m);
    const [found, left] = made.split("As left, by the new record");
    expect(found).toContain("As found, before anything was changed");
    expect(found).toContain("Calibrate before the next set. The error of +2.50 % at 1600 N is beyond 2 %.");
    expect(left).toContain("The record holds");
  });

  test("what was found is judged by the record of then, where it is known", () => {
    const record = { ...RECORD, checks: [check(1600, 1608)] };
    expect(sheetOfCalibration(record, null).parts[0]?.report.verdict?.is).toBe("holds");
    const sharper = { ...RECORD, expanded_uncertainty_N: 2 };
    expect(sheetOfCalibration(record, sharper).parts[0]?.report.verdict?.is).toBe("drifted");
  });

  test("a record of before there were checks has a sheet, too", () => {
    expect(textSheet(sheetOfCalibration(RECORD, null), HOUSE)).toContain("No check load was hung.");
  });
});

describe("the sheet on paper", () => {
  const html = htmlSheet(sheetOf(), HOUSE);

  test("fetches nothing and runs nothing", () => {
    expect(html).not.toMatch(/<script|<link|<img|<iframe|@import|url\((?!#)|\bon\w+=|javascript:/i);
    expect(html.match(/https?:\/\/[^"]*/g)).toEqual(["http://www.w3.org/2000/svg"]);
    expect(html).toContain("default-src 'none'");
  });

  test("says what the text says", () => {
    const words = (text: string): string => text.replaceAll(/[^\p{L}\p{N}.%+-]+/gu, "");
    const page = words(
      html
        .replace(/<style>[\s\S]*?<\/style>/, "")
        .replace(/<figure>[\s\S]*?<\/figure>/, "")
        .replaceAll(/<[^>]+>/g, " ")
        .replaceAll("&#39;", "'"),
    );
    for (const line of textSheet(sheetOf(), HOUSE).split("\n")) {
      if (!/^[-=]+$|^Signed/.test(line)) expect(page).toContain(words(line.replace(/^- /, "")));
    }
  });

  test("everything that somebody typed is escaped", () => {
    const nasty = `<script>alert("x")</script><img src='y' onerror=z>&`;
    const made = htmlSheet(
      sheetOf({ note: nasty, performed_by: nasty }, { ...RECORD, station: nasty, board: nasty, cell: nasty }),
      HOUSE,
    );
    expect(made).not.toMatch(/<script|<img/);
    expect(made).toContain(
      "&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&lt;img src=&#39;y&#39; onerror=z&gt;&amp;",
    );
  });

  test("every tag that opens closes", () => {
    const open: string[] = [];
    for (const [, slash, name, self] of html.matchAll(/<(\/?)([a-z][\w]*)\b[^>]*?(\/?)>/gi)) {
      if (self === "/" || name === "meta" || slash === undefined || name === undefined) continue;
      if (slash === "") open.push(name);
      else expect(open.pop()).toBe(name);
    }
    expect(open).toEqual([]);
  });

  test("marks each load in both panels, nothing-on where newtons are, and each kind in the legend", () => {
    const kinds = 2 + 1 + 1;
    expect(marks(html)).toBe(19 + 21 + kinds);
    // Series 1 filled, 2 hollow, 3 dotted: shapes and fillings, no colours.
    expect(html.match(/<circle /g)).toHaveLength(5 + 5 + 1);
    expect(html.match(/(?:fill|stroke)="#(\w+)"/g)?.every((one) => /#(000|fff|ddd|555)"/.test(one))).toBe(true);
  });

  test("labels its axes with units, in the unit of the house", () => {
    const made = htmlSheet(sheetOf(), { ...HOUSE, unit: "kgf" });
    for (const label of ["error, % of the force", "error, kgf", "true force, kgf", "class 0.5", "class 1"]) {
      expect(made).toContain(`>${label}</text>`);
    }
  });

  test("a mark stands where its error is", () => {
    const one = { ...HOUSE };
    const plotOf = (indicated_N: number): number[] => {
      const made = htmlSheet(sheetOf({ checks: [check(2000, indicated_N)] }), one);
      const tip = /<polygon points="([\d.]+),([\d.]+) [^"]*" fill="#000"/.exec(made);
      return [Number(tip?.[1]), Number(tip?.[2])];
    };
    const [exact, above, below] = [plotOf(2000), plotOf(2008), plotOf(1992)];
    expect(above[0]).toBe(exact[0]);
    expect(above[1]!).toBeLessThan(exact[1]!);
    expect(below[1]! - exact[1]!).toBeCloseTo(exact[1]! - above[1]!, 1);
  });
});
