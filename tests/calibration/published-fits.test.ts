/**
 * The room's arithmetic against published worked examples: its least-squares climb (`fittedChange`), its mean, its force
 * from counts and its combining of uncertainties. Digits are scored as the reference sets score them: log relative error.
 */
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { CAPTURE_BEGUN, type StillStep, stepStillWindow } from "../../calibration/procedure/still-window.ts";
import { forceOf } from "../../calibration/scale.ts";
import { fittedChange, summarise } from "../../calibration/statistics.ts";
import { combined } from "../../calibration/uncertainty/uncertainty.ts";

/** Slope and intercept of the least-squares line, out of what the room has. */
function lineOf(x: readonly number[], y: readonly number[]) {
  const slope = fittedChange(x, y) / (x.at(-1)! - x[0]!);
  return { slope, intercept: summarise(y).mean - slope * summarise(x).mean };
}

const digits = (value: number, published: number): number => -Math.log10(Math.abs(value / published - 1));

describe("NIST StRD Norris, calibration of ozone monitors (the data file, as distributed with a public statistics library)", () => {
  const rows = readFileSync(new URL("data/norris.dat", import.meta.url), "utf8")
    .split("\n")
    .slice(60, 96)
    .map((line) => line.trim().split(/\s+/).map(Number));
  const y = rows.map(([value]) => value!);
  const x = rows.map(([, value]) => value!);

  it("has the certified slope and intercept to nine digits and more", () => {
    expect(rows).toHaveLength(36);
    const { slope, intercept } = lineOf(x, y);
    expect(digits(slope, 1.00211681802045)).toBeGreaterThan(12);
    expect(digits(intercept, -0.262323073774029)).toBeGreaterThan(11);
  });

  it("has them in whatever order the pairs come, and far away from zero", () => {
    const up = rows.toSorted((a, b) => a[1]! - b[1]!);
    const sorted = lineOf(
      up.map(([, value]) => value!),
      up.map(([value]) => value!),
    );
    expect(digits(sorted.slope, 1.00211681802045)).toBeGreaterThan(12);
    // As counts far above their own spread: a sum of squares without the mean taken out would lose these digits.
    const far = lineOf(
      x.map((value) => value + 4e6),
      y.map((value) => value + 4e6),
    );
    expect(digits(far.slope, 1.00211681802045)).toBeGreaterThan(9);
  });
});

describe("GUM H.3, calibration of a thermometer (JCGM 100:2008; data and results read in a public uncertainty library)", () => {
  const t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511];
  const b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16];
  const { slope, intercept } = lineOf(
    t.map((degC) => degC - 20),
    b,
  );

  it("has the published line: -0.1712 at 20 degrees, 0.00218 a degree, -0.1494 at 30 degrees", () => {
    expect(intercept).toBeCloseTo(-0.1712, 4);
    expect(slope).toBeCloseTo(0.00218, 5);
    expect(intercept + 10 * slope).toBeCloseTo(-0.1494, 4);
  });

  it("has the published uncertainties, at 30 degrees from the independent parts of mean and slope", () => {
    const mean_degC = summarise(t).mean;
    const off = b.map((value, i) => value - (intercept + slope * (t[i]! - 20)));
    const s = Math.sqrt(off.reduce((sum, value) => sum + value ** 2, 0) / (t.length - 2));
    const u_slope = s / (summarise(t).sd * Math.sqrt(t.length - 1));
    expect(s).toBeCloseTo(0.0035, 4);
    expect(u_slope).toBeCloseTo(0.00067, 5);
    // About the mean of the abscissae the two do not depend on each other.
    expect(combined(s / Math.sqrt(t.length), (20 - mean_degC) * u_slope)).toBeCloseTo(0.0029, 4);
    expect(combined(s / Math.sqrt(t.length), (30 - mean_degC) * u_slope)).toBeCloseTo(0.0041, 4);
  });
});

describe("reading a value back from a line (Massart et al., Handbook of Chemometrics, 1997, ch. 8, example 7; results read in a public calibration package)", () => {
  const x = [0, 10, 20, 30, 40, 50];
  const y = [4, 21.2, 44.6, 61.8, 78, 105.2];
  const { slope, intercept } = lineOf(x, y);

  it("gives the published 6.1 and 43.9", () => {
    expect(forceOf(15, intercept, slope)).toBeCloseTo(6.09381, 5);
    expect(forceOf(90, intercept, slope)).toBeCloseTo(43.93983, 5);
  });

  it("with the published standard errors, of one reading and of the mean of five", () => {
    // Residual deviation 2.99116, of the same source.
    const spread_x = Math.sqrt(5) * summarise(x).sd;
    const error = (indicated: number, readings: number): number =>
      combined(
        2.99116 / Math.sqrt(readings),
        2.99116 / Math.sqrt(6),
        (2.99116 * (indicated - summarise(y).mean)) / (slope * spread_x),
      ) / slope;
    expect(error(15, 1)).toBeCloseTo(1.767278, 5);
    expect(error(90, 1)).toBeCloseTo(1.767747, 5);
    expect(error(90, 5)).toBeCloseTo(1.141204, 5);
  });
});

describe("a still window of the counts of NIST StRD NumAcc3: a million and a fifth, a tenth up and down in turn", () => {
  it("keeps the certified mean and deviation", () => {
    const limits = { dwell_us: 0, window_us: 12_500_000, moving_counts: 100, counts_per_N: 100 };
    let step: StillStep = { state: CAPTURE_BEGUN, result: null };
    // The reading that begins a capture is not part of its window.
    step = stepStillWindow(step.state, 0, 1_000_000.2, limits);
    for (let reading = 0; reading < 1001; reading += 1) {
      const counts = reading === 0 ? 1_000_000.2 : reading % 2 === 1 ? 1_000_000.1 : 1_000_000.3;
      expect(step.result).toBeNull();
      step = stepStillWindow(step.state, (reading + 1) * 12_500 - (reading < 1000 ? 1 : 0), counts, limits);
    }
    if (step.result?.ok !== true) throw new Error("no window");
    const { mean_counts, noise_counts, readings } = step.result.point;
    expect(readings).toBe(1001);
    expect(digits(mean_counts, 1_000_000.2)).toBeGreaterThan(14);
    expect(digits(noise_counts, 0.1)).toBeGreaterThan(8);
  });
});
