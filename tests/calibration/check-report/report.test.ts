import { describe, expect, it } from "vitest";
import { heldClasses } from "../../../calibration/check-report/classes.ts";
import { CLASSES } from "../../../calibration/check-report/iso-7500-1.ts";
import { levelsOf } from "../../../calibration/check-report/levels.ts";
import { type CheckReport, reportOf } from "../../../calibration/check-report/report.ts";
import { resolutionOf } from "../../../calibration/check-report/resolution.ts";
import type { Check } from "../../../calibration/record.ts";
import { frozen } from "../frozen.ts";
import { CLAIM, COUNTS_PER_N, check, upSeries } from "./made-checks.ts";

const LEVELS_N = [400, 800, 1200, 1600, 2000];

function report(checks: readonly Check[]): CheckReport {
  const made = reportOf(frozen([...checks]), "as-found", CLAIM);
  if (made === null) throw new Error("there were checks");
  return made;
}

describe("ISO 7500-1 worked through at one level", () => {
  // Three increasing series at 1000 N: 1003, 998 and 1001 N. Worked by hand from the definitions of q and b.
  const checks = [1003, 998, 1001].map((indicated_N, index) => check(1000, indicated_N, { series: index + 1 }));
  const [level] = levelsOf(checks, COUNTS_PER_N);

  it("q is +0.3, -0.2 and +0.1 %, on average +0.067 %", () => {
    expect(level?.runs.map(({ error }) => Math.round(error * 1e6) / 1e4)).toEqual([0.3, -0.2, 0.1]);
    expect(level?.mean_error).toBeCloseTo(0.2e-2 / 3, 12);
    expect(level?.worst_error).toBeCloseTo(0.003, 12);
  });

  it("b is 0.5 %: largest less smallest, not first less last (0.2 %)", () => {
    expect(level?.repeatability).toBeCloseTo(0.005, 12);
    expect(level?.repeatability).not.toBeCloseTo(0.002, 4);
  });

  it("which is class 0.5, a limit that is met being kept", () => {
    expect(heldClasses([level!], null, 0.5)).toEqual([
      { name: "0.5", from_N: 1000, to_N: 1000, resolution_limit_N: 200 },
    ]);
  });

  it("a resolution of 0.5 N allows class 1 from 100 N only, and class 0.5 from 200 N", () => {
    const least = (name: string): number => CLASSES.find((one) => one.name === name)!.least_resolutions * 0.5;
    expect([least("0.5"), least("1"), least("2"), least("3")]).toEqual([200, 100, 50, 33.5]);
    const classAt = (force_N: number): string | undefined =>
      heldClasses(levelsOf([check(force_N, force_N)], COUNTS_PER_N), null, 0.5)[0]?.name;
    expect([33, 34, 49, 50, 99, 100, 199, 200].map(classAt)).toEqual([undefined, "3", "3", "2", "2", "1", "1", "0.5"]);
  });
});

// ISO 7500-1:2018, from a secondary source: q, b, v, f0 and a of each class in percent.
describe.each([
  ["0.5", 0.5, 0.5, 0.75, 0.05, 0.25],
  ["1", 1, 1, 1.5, 0.1, 0.5],
  ["2", 2, 2, 3, 0.2, 1],
  ["3", 3, 3, 4.5, 0.3, 1.5],
] as const)("each limit of class %s", (name, q, b, v, f0, a) => {
  const best = (checks: readonly Check[], zero_error: number | null = null, resolution_N = 1e-6): string | undefined =>
    heldClasses(levelsOf(checks, COUNTS_PER_N), zero_error, resolution_N)[0]?.name;
  const isOr = (kept: string | undefined): boolean => kept === name;

  it.each([1, -1])("error, on side %d", (side) => {
    expect(isOr(best([check(1000, 1000 + side * 10 * q)]))).toBe(true);
    expect(isOr(best([check(1000, 1000 + side * 10.01 * q)]))).toBe(false);
  });

  it("repeatability", () => {
    const apart = (percent: number): Check[] =>
      [-0.5, 0.5].map((half, index) => check(1000, 1000 + half * percent * 10, { series: index + 1 }));
    expect(isOr(best(apart(b)))).toBe(true);
    expect(isOr(best(apart(b * 1.001)))).toBe(false);
  });

  it.each([1, -1])("reversibility, on side %d", (side) => {
    const pair = (percent: number): Check[] => [
      check(1000, 1000),
      check(1000, 1000 + side * percent * 10, { loading: "decreasing" }),
    ];
    expect(isOr(best(pair(v)))).toBe(true);
    expect(isOr(best(pair(v * 1.001)))).toBe(false);
  });

  it("zero and resolution", () => {
    const good = [check(1000, 1000)];
    expect(isOr(best(good, f0 / 100))).toBe(true);
    expect(isOr(best(good, (f0 / 100) * 1.001))).toBe(false);
    const least = CLASSES.find((one) => one.name === name)!.least_resolutions;
    expect(isOr(best(good, null, 1000 / least))).toBe(true);
    expect(isOr(best(good, null, (a / 100) * 1000 * 1.006))).toBe(false);
  });
});

describe("a whole check", () => {
  const down = LEVELS_N.slice(0, -1).map((force_N) => check(force_N, force_N * 1.006, { loading: "decreasing" }));
  const zeros = [check(0, 0.2), check(0, 1.2, { loading: "decreasing" })];

  it("says levels, series, both ways and the return to zero", () => {
    const up = upSeries(LEVELS_N, [
      [0.2, 0.2, 0.2, 0.2, 0.2],
      [0.4, 0.4, 0.4, 0.4, 0.4],
      [0.3, 0.3, 0.3, 0.3, 0.3],
    ]);
    const made = report([...zeros, ...up, ...down]);
    expect(made.levels.map(({ force_N }) => force_N)).toEqual(LEVELS_N);
    expect(made.levels.map(({ repeatability }) => repeatability?.toFixed(6))).toEqual(Array(5).fill("0.002000"));
    expect(made.levels.map(({ reversibility }) => reversibility?.toFixed(6))).toEqual([
      ...Array(4).fill("0.004000"),
      undefined,
    ]);
    expect(made.zeros).toEqual([{ series: 1, before_N: 0.2, after_N: 1.2, return_N: 1 }]);
    expect(made.zero_error).toBeCloseTo(1 / 2000, 12);
    expect(made.class_text).toBe("Within the limits of class 0.5 over 20..100 % of 2 kN.");
    expect(made.lacking).toEqual(["Loads with a certificate of their own: these are known to 0.1 %."]);
    expect(made.verdict).toMatchObject({ is: "holds" });
  });

  it("names a better class at the top first, then the wider one below it", () => {
    const made = report([...zeros, ...upSeries(LEVELS_N, [[2.9, 0.9, 0.4, 0.4, 0.4]])]);
    expect(made.class_text).toBe(
      "Within the limits of class 0.5 over 60..100 % of 2 kN, of class 1 over 40..100 % and of class 3 over 20..100 %. " +
        "The limits of repeatability and reversibility were not tried.",
    );
  });

  it("a zero that stood off from the start is told apart from one that did not come back", () => {
    const made = report([check(0, 1.3), check(1000, 1001.3), check(0, 1.3, { loading: "decreasing" })]);
    expect(made.zeros).toEqual([{ series: 1, before_N: 1.3, after_N: 1.3, return_N: 0 }]);
    expect(made.zero_remark).toMatch(/^With nothing on it read 1\.3 N before a load was hung, .*: zero the station/);
    // One division of a 5000 N cell is 1 N.
    expect(report([check(0, -1), check(1000, 1000)]).zero_remark).toBeNull();
    expect(report([check(0, -1.01), check(1000, 1000)]).zero_remark).toMatch(/read -1\.0 N/);
  });

  it("a return that nobody read the start of is what was read", () => {
    expect(report([check(1000, 1000), check(0, -0.5, { loading: "decreasing" })]).zero_error).toBeCloseTo(0.0005, 12);
    expect(report([check(0, 0.4), check(1000, 1000)]).zeros[0]).toMatchObject({ after_N: null, return_N: null });
  });

  it("a hole ends the range, however good it is below", () => {
    const made = report(upSeries(LEVELS_N, [[0, 0, 5, 0, 0]]));
    expect(made.classes.map(({ name, from_N, to_N }) => [name, from_N, to_N])).toEqual([["0.5", 1600, 2000]]);
  });

  it("no class without the highest level", () => {
    const made = report(upSeries(LEVELS_N, [[0, 0, 0, 0, -3.1]]));
    expect(made.classes).toEqual([]);
    expect(made.class_text).toMatch(/^Outside the limits of class 3 at the highest level, 2 kN: error\. The limits of/);
  });

  it("no class names each limit that was not kept", () => {
    const down = check(2000, 2200, { loading: "decreasing" });
    const noisy = check(0, 8, { loading: "decreasing", noise_counts: 1100 });
    const made = report([...upSeries([2000], [[-3.1], [0.5]]), down, noisy]);
    expect(made.class_text).toBe(
      "Outside the limits of class 3 at the highest level, 2 kN: error, repeatability, reversibility, resolution and zero return.",
    );
    // A good load under a zero that does not come back is no error of the load.
    const returned = report([check(2000, 2000), check(0, 8, { loading: "decreasing" })]);
    expect(returned.class_text).toMatch(/at the highest level, 2 kN: zero return\. The limits of/);
  });

  it("a load that was only come down to has no error that a class asks for", () => {
    const made = report([check(1000, 1000, { loading: "decreasing" })]);
    expect(made.classes).toEqual([]);
    expect(made.class_text).toMatch(
      /^The highest level, 1 kN, was never reached from below: there is nothing to say of a class\. The limits of/,
    );
  });

  it("one load says only what one load can", () => {
    const made = report([check(196.2, 196.3, { mass_kg: 20 })]);
    expect(made.levels[0]).toMatchObject({ mass_kg: 20, repeatability: null, reversibility: null });
    expect(made.zero_error).toBeNull();
    expect(made.class_text).toBe(
      "Within the limits of class 0.5 at 9.8 % of 2 kN. " +
        "The limits of repeatability, reversibility and zero return were not tried.",
    );
    expect(made.lacking).toEqual([
      "At least five levels between 20 and 100 % of 2 kN: there were none.",
      "A level at 100 %: the highest was 9.8 %.",
      "Three increasing series: there was one.",
      "Loads with a certificate of their own: these are known to 0.1 %.",
    ]);
  });

  it("counts a plate of 20 kg, 19.6 % of 1 kN, as the 20 % it is said to be", () => {
    const made = reportOf(
      [196.2, 588.6, 981].map((force_N) => check(force_N, force_N)),
      "as-found",
      {
        ...CLAIM,
        working_force_N: 1000,
      },
    );
    expect(made?.lacking[0]).toBe("At least five levels between 20 and 100 % of 1 kN: there were 3.");
  });

  it("says so where a second series was not finished", () => {
    const made = report([...upSeries(LEVELS_N, [[0, 0, 0, 0, 0]]), check(400, 400, { series: 2 })]);
    expect(made.class_text).toMatch(/repeatability were tried at some levels only\.$/);
  });

  it("a class finer than the loads are known is worded as that", () => {
    const rough = { applied: { at: "handle", lever_angle_deg: null, relative_tolerance: 0.01 } } as const;
    const made = report([check(2000, 2000, rough)]);
    expect(made.class_text).toMatch(
      /^Within the limits of class 0\.5 at 100 % of 2 kN, as far as loads known to 1 % can/,
    );
    // Rectangular, k = 2: 2 x 20 N / sqrt(3); the window adds 2 x 0.2 counts / 100 counts a newton.
    expect(made.levels[0]?.check_uncertainty_N).toBeCloseTo(Math.hypot(40 / Math.sqrt(3), 0.004), 9);
  });

  it("never calls itself a certificate, and counts only the checks it is asked for", () => {
    const checks = [check(2000, 2000), check(1000, 900, { when: "as-left" })];
    expect(JSON.stringify(report(checks))).not.toMatch(/certified|conforms|verified/i);
    expect(report(checks).levels).toHaveLength(1);
    expect(reportOf([check(2000, 2000)], "as-left", CLAIM)).toBeNull();
  });

  it("nothing hung is said as that", () => {
    const made = report([check(0, 0.1)]);
    expect(made).toMatchObject({ levels: [], classes: [], verdict: null, zero_error: null });
    expect(made.class_text).toBe("No load was hung: there is nothing to say of a class.");
  });
});

describe("what is one level, and what is read", () => {
  it("loads within 0.1 % are one level, others are not", () => {
    expect(levelsOf([check(1000, 1000), check(1000.9, 1001, { series: 2 })], 1)).toHaveLength(1);
    expect(levelsOf([check(1000, 1000), check(1001.1, 1001, { series: 2 })], 1)).toHaveLength(2);
  });

  it("a decreasing load alone gives no error of the class's kind, so no class", () => {
    const [level] = levelsOf([check(1000, 1000, { loading: "decreasing" })], 1);
    expect(level).toMatchObject({ mean_error: null, worst_error: null, reversibility: null });
    expect(heldClasses([level!], null, 0.01)).toEqual([]);
  });

  it("one count is the resolution of a silent sensor, three standard deviations that of a noisy one", () => {
    expect(resolutionOf([check(0, 0, { noise_counts: 0.2 })], 100)).toEqual({ resolution_N: 0.01, from: "count" });
    expect(resolutionOf([check(0, 0, { noise_counts: 40 })], -100)).toEqual({ resolution_N: 1.2, from: "noise" });
  });

  it("a load that swings a little is not the sensor's noise", () => {
    const checks = [check(0, 0, { noise_counts: 10 }), check(1000, 1000, { noise_counts: 90 })];
    expect(resolutionOf(checks, 100).resolution_N).toBeCloseTo(0.3, 12);
    expect(resolutionOf(checks.slice(1), 100).resolution_N).toBeCloseTo(2.7, 12);
  });
});
