import { describe, expect, it } from "vitest";
import { levelsOf } from "../../../calibration/check-report/levels.ts";
import { claimed_N, type Verdict, verdictOf } from "../../../calibration/check-report/verdict.ts";
import type { Check } from "../../../calibration/record.ts";
import { CLAIM, COUNTS_PER_N, check } from "./made-checks.ts";

const verdict = (...checks: readonly Check[]): Verdict => verdictOf(levelsOf(checks, COUNTS_PER_N), CLAIM)!;
const known = (relative_tolerance: number): Partial<Check> => ({
  applied: { at: "handle", lever_angle_deg: null, relative_tolerance },
});

describe("what a record claims", () => {
  it("is what a set there would claim: the scale in proportion, and a zero within one division of 1 N", () => {
    const zero_N = 2 / Math.sqrt(3);
    expect(claimed_N(CLAIM, 2000)).toBeCloseTo(Math.hypot(10, zero_N), 9);
    expect(claimed_N(CLAIM, 1000)).toBeCloseTo(Math.hypot(5, zero_N), 9);
    expect(claimed_N(CLAIM, 0)).toBeCloseTo(zero_N, 9);
  });
});

describe("the verdict", () => {
  const open_N = claimed_N(CLAIM, 1000) + 1;

  it("holds to the limit of claim and tolerance together, and drifts just beyond", () => {
    expect(verdict(check(1000, 1000 + open_N - 0.001))).toMatchObject({ is: "holds" });
    expect(verdict(check(1000, 1000 + open_N + 0.001))).toMatchObject({ is: "drifted" });
    expect(verdict(check(1000, 1000 - open_N - 0.001))).toMatchObject({ is: "drifted" });
  });

  it("drifts to 2 % and calls for a calibration beyond", () => {
    expect(verdict(check(1000, 1019.9)).text).toBe(
      "Drifted, usable: calibrate soon. The error of +1.99 % at 1000 N is more than the record claims, and within 2 %.",
    );
    expect(verdict(check(1000, 979.9)).text).toBe(
      "Calibrate before the next set. The error of -2.01 % at 1000 N is beyond 2 %.",
    );
  });

  it("one run decides, going down as well as up", () => {
    const down = check(1000, 1025, { loading: "decreasing" });
    expect(verdict(check(400, 400), check(1000, 1000), check(2000, 2000), down)).toMatchObject({
      is: "calibrate",
      decided_by: { force_N: 1000, loading: "decreasing" },
    });
  });

  it("the run that decides is named, not a larger error that its load explains", () => {
    const rough = check(400, 414, known(0.04));
    expect(verdict(rough, check(1000, 1015))).toMatchObject({ is: "drifted", decided_by: { force_N: 1000 } });
  });

  it("a load nobody weighed can neither clear nor condemn a record", () => {
    expect(verdict(check(1000, 1035, known(0.03)))).toMatchObject({ is: "cannot-tell" });
    expect(verdict(check(1000, 1055, known(0.03)))).toMatchObject({ is: "calibrate" });
  });

  it("a gross error is no drift", () => {
    expect(verdict(check(1000, 700)).text).toMatch(/is no drift: first look for what is loose, bent or touching/);
  });

  it("has no sign where the error rounds to nothing", () => {
    expect(verdict(check(1000, 999.99)).text).toMatch(/the largest error, 0\.00 % at 1000 N,/);
  });

  it("holds in plain words", () => {
    expect(verdict(check(1000, 1001)).text).toBe(
      "The record holds: the largest error, +0.10 % at 1000 N, is within what the record claims and what the load is known to.",
    );
  });
});
