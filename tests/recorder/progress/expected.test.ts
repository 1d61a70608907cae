/** What the record predicts of today's best: a line and a level, and below only what is below both. */
import { linearRegression } from "simple-statistics";
import { describe, expect, it } from "vitest";
import type { FigureError } from "../../../recorder/progress/errors.ts";
import { expectedBest } from "../../../recorder/progress/expected.ts";
import type { Day } from "../../../recorder/progress/series.ts";
import { DEFAULT_RULES } from "../../../recorder/progress/trend.ts";
import { frozen } from "../../calibration/frozen.ts";
import { scattered, visits } from "./series.ts";

const KNOWN: FigureError = { typical_error: 0.03, degrees_of_freedom: null, from: "published", source: "made up" };
const of = (days: readonly Day[], error = KNOWN) => expectedBest(frozen(days), error, frozen(DEFAULT_RULES));
/** 99 %, two-sided, of a known error. */
const T = 2.576 * 0.03;

describe("a level of four or five days", () => {
  it.each([4, 5])("of %d: their last four's mean of logarithms, less 2.576 errors of a new day about it", (count) => {
    const before = [700, 900, 1000, 1000, 1100].slice(-count);
    const level = (Math.log(900) + 2 * Math.log(1000) + Math.log(1100)) / 4;
    const expected = of(visits([...before, 990]))!;
    expect(expected.expected_N).toBeCloseTo(Math.exp(level), 9);
    expect(expected.least_N).toBeCloseTo(Math.exp(level - T * Math.sqrt(1 + 1 / 4)), 9);
    expect(expected).toMatchObject({ best_N: 990, below: false });
  });

  it("is not told by three, and not by a newest day without a best", () => {
    expect(of(visits([1000, 1000, 1000, 500]))).toBeNull();
    expect(of(visits([1000, 1000, 1000, 1000, 500]))!.below).toBe(true);
    expect(of(visits([1000, 1000, 1000, 1000, 500]).with(4, { ...visits([1])[0]!, best_force_N: null }))).toBeNull();
    expect(of([])).toBeNull();
  });

  it("is below at less than the least, not at it", () => {
    const least = of(visits([1000, 1000, 1000, 1000, 1]))!.least_N;
    expect(of(visits([1000, 1000, 1000, 1000, least]))!.below).toBe(false);
    expect(of(visits([1000, 1000, 1000, 1000, least - 1e-6]))!.below).toBe(true);
  });

  it("is wider where the newest day had another calibration than those before", () => {
    const days = visits([1000, 1000, 1000, 1000, 900], (index) => ({
      expanded_uncertainty_N: 20,
      calibration_id: index < 4 ? "first" : "second",
    }));
    const scales = Math.hypot(20 / 1000, 20 / 900);
    const least = of(days)!.least_N;
    expect(least).toBeCloseTo(1000 * Math.exp(-Math.hypot(T * Math.sqrt(1.25), scales)), 9);
  });

  it("is wider by Student's t where the error is their own", () => {
    const own = { ...KNOWN, degrees_of_freedom: 8, from: "own" as const };
    expect(of(visits([1000, 1000, 1000, 1000, 900]), own)!.least_N).toBeCloseTo(
      1000 * Math.exp(-3.355 * 0.03 * Math.sqrt(1.25)),
      9,
    );
  });
});

describe("a line of six days and more", () => {
  /** Six visits, not evenly apart, each 4 % a visit weaker. */
  const falling = visits([1000, 960, 922, 885, 849, 815, 790], undefined, (index) => [0, 3, 8, 12, 15, 20, 24][index]!);

  it("is what falls below a level: whoever declines is expected to go on", () => {
    const points = falling.slice(0, 6).map(({ best_force_N, set_seq }) => [set_seq, Math.log(best_force_N!)]);
    const { m, b } = linearRegression(points);
    const x_mean = points.reduce((sum, [x]) => sum + x!, 0) / 6;
    const squares = points.reduce((sum, [x]) => sum + (x! - x_mean) ** 2, 0);
    const error = Math.sqrt(1 + 1 / 6 + (24 - x_mean) ** 2 / squares);
    const expected = of(falling)!;
    expect(expected.expected_N).toBeCloseTo(Math.exp(m * 24 + b), 6);
    expect(expected.least_N).toBeCloseTo(Math.exp(m * 24 + b - T * error), 6);
    expect(expected.below).toBe(false);
  });

  it("is not drawn through five", () => {
    const five = of(falling.slice(1))!;
    const last = [922, 885, 849, 815].reduce((sum, value) => sum + Math.log(value), 0) / 4;
    expect(five.expected_N).toBeCloseTo(Math.exp(last), 9);
  });

  it("does not hold a riser to going on: whoever stays at what they have shown is not below", () => {
    const risen = of(visits([800, 850, 900, 950, 1000, 1050, 1000]))!;
    const level = [900, 950, 1000, 1050].reduce((sum, value) => sum + Math.log(value), 0) / 4;
    expect(risen.expected_N).toBeCloseTo(Math.exp(level), 9);
    expect(risen.below).toBe(false);
  });

  it("looks back on ten days and no further", () => {
    const days = visits([...scattered(1, 4, 0.02), ...scattered(2, 11, 0.02)]);
    const other = days.map((day, index) => (index < 4 ? { ...day, best_force_N: 300 } : day));
    expect(of(other)).toEqual(of(days));
    const tenth = days.map((day, index) => (index === 4 ? { ...day, best_force_N: 4000 } : day));
    expect(of(tenth)).not.toEqual(of(days));
  });

  it("goes over days that have no best, or none above nought", () => {
    const days = visits([1000, 1000, 1000, 1000, 0, 990]);
    expect(of(days)).toEqual(of(days.toSpliced(4, 1)));
    expect(of(days.map((day, index) => (index === 4 ? { ...day, best_force_N: null } : day)))).toEqual(of(days));
  });
});

it("chance alone goes below in fewer than one visit of a hundred", () => {
  const below = Array.from({ length: 3000 }, (_, seed) => of(visits(scattered(seed, 11, 0.03)))!.below);
  const share = below.filter(Boolean).length / 3000;
  expect(share).toBeLessThan(0.01);
  expect(share).toBeGreaterThan(0);
});
