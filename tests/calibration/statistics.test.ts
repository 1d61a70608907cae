import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { fittedChange, summarise } from "../../calibration/statistics.ts";
import { seededNoise } from "./seeded-noise.ts";

interface CertifiedSet {
  readonly certified: { readonly mean: number; readonly sd: number; readonly lag1_autocorrelation: number };
  readonly data?: readonly number[];
  readonly generator?: {
    readonly first: number;
    readonly then_alternate: readonly number[];
    count_after_first: number;
  };
}

const { sets } = JSON.parse(readFileSync(new URL("data/nist-univariate.json", import.meta.url), "utf8")) as {
  sets: Record<string, CertifiedSet>;
};

function dataOf(set: CertifiedSet): readonly number[] {
  if (set.data !== undefined) return set.data;
  const { first, then_alternate, count_after_first } = set.generator!;
  const rest = Array.from({ length: count_after_first }, (_, i) => then_alternate[i % then_alternate.length]!);
  return [first, ...rest];
}

/** Digits that agree (log relative error), as the reference sets are scored. */
function digits(value: number, certified: number): number {
  return value === certified ? 16 : -Math.log10(Math.abs(value / certified - 1));
}

describe("against the certified values of the NIST Statistical Reference Datasets", () => {
  // NumAcc3 and NumAcc4 are limited by the doubles that hold their data (7 and 8 digits before the decimal point of a
  // tenth), not by the arithmetic.
  it.each([
    ["Lew", 13],
    ["Mavro", 12],
    ["Michelso", 13],
    ["NumAcc3", 9],
    ["NumAcc4", 8],
  ])("%s: mean, SD and lag-1 autocorrelation to %d digits", (name, enough) => {
    const set = sets[name]!;
    const { mean, sd, lag1_autocorrelation } = summarise(dataOf(set));
    expect(digits(mean, set.certified.mean)).toBeGreaterThanOrEqual(14);
    expect(digits(sd, set.certified.sd)).toBeGreaterThanOrEqual(enough);
    expect(digits(lag1_autocorrelation, set.certified.lag1_autocorrelation)).toBeGreaterThanOrEqual(enough);
  });

  it("a one-pass sum of squares would lose NumAcc4, so the check can fail", () => {
    const data = dataOf(sets["NumAcc4"]!);
    const n = data.length;
    const sum = data.reduce((total, value) => total + value, 0);
    const squares = data.reduce((total, value) => total + value * value, 0);
    const one_pass = Math.sqrt((squares - (sum * sum) / n) / (n - 1));
    expect(digits(one_pass, 0.1) >= 8).toBe(false);
  });

  it("Mavro drifts (r1 = 0.94): its mean is several times less certain than s/sqrt(n) says", () => {
    const { sd, readings, standard_error } = summarise(dataOf(sets["Mavro"]!));
    expect(standard_error / (sd / Math.sqrt(readings))).toBeGreaterThan(5);
  });

  it("Lew alternates (r1 = -0.31): no credit is taken for it", () => {
    const { sd, readings, standard_error } = summarise(dataOf(sets["Lew"]!));
    expect(standard_error).toBeCloseTo(sd / Math.sqrt(readings), 12);
  });
});

describe("the standard error of the mean", () => {
  // The truth is the spread of the means of 1500 simulated first-order autoregressions.
  it.each([
    [240, 0],
    [240, 0.6],
    [240, 0.9],
    [30, 0.3],
  ])("of %d readings with correlation %d is within a quarter of the spread means really have", (n, correlation) => {
    const noise = seededNoise(20_261_124);
    const runs = 1500;
    let means = 0;
    let claimed = 0;
    for (let run = 0; run < runs; run += 1) {
      let value = noise(1 / Math.sqrt(1 - correlation ** 2));
      const values: number[] = [];
      for (let i = 0; i < n; i += 1) {
        values.push(value);
        value = correlation * value + noise(1);
      }
      const { mean, standard_error } = summarise(values);
      means += mean ** 2;
      claimed += standard_error ** 2;
    }
    const ratio = Math.sqrt(claimed / means);
    expect(ratio).toBeGreaterThan(0.9);
    expect(ratio).toBeLessThan(1.25);
  });

  it("is never below s/sqrt(n), scales with the readings and does not care where zero is", () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: -500, max: 500 }), { minLength: 4, maxLength: 60 }),
        fc.integer({ min: -8_000_000, max: 8_000_000 }),
        (values, offset) => {
          const plain = summarise(values);
          const moved = summarise(values.map((value) => value + offset));
          const doubled = summarise(values.map((value) => 2 * value));
          expect(plain.standard_error).toBeGreaterThanOrEqual((plain.sd / Math.sqrt(values.length)) * (1 - 1e-12));
          expect(moved.standard_error).toBeCloseTo(plain.standard_error, 5);
          expect(moved.mean - offset).toBeCloseTo(plain.mean, 6);
          expect(doubled.standard_error).toBeCloseTo(2 * plain.standard_error, 8);
        },
      ),
    );
  });

  it("is zero for equal readings, and two readings say nothing", () => {
    expect(summarise([7, 7, 7, 7])).toEqual({
      readings: 4,
      mean: 7,
      sd: 0,
      lag1_autocorrelation: 0,
      standard_error: 0,
    });
    expect(summarise([1, 2, 4]).readings).toBe(3);
    expect(() => summarise([1, 2])).toThrow(RangeError);
  });

  it("of a steady climb stays finite", () => {
    expect(Number.isFinite(summarise([1, 2, 3, 4, 5, 6, 7, 8]).standard_error)).toBe(true);
  });
});

describe("the fitted change", () => {
  it("of a straight line is its whole climb, at any spacing", () => {
    expect(fittedChange([0, 1, 5, 10], [3, 5, 13, 23])).toBeCloseTo(20, 12);
    expect(fittedChange([4, 4, 4], [1, 2, 3])).toBe(0);
  });

  it("is not fooled by one end reading that is off", () => {
    const x = Array.from({ length: 100 }, (_, i) => i);
    const y = x.map((i) => (i === 99 ? 50 : 0));
    expect(Math.abs(fittedChange(x, y))).toBeLessThan(3.1);
  });

  it("wants pairs", () => {
    expect(() => fittedChange([], [])).toThrow(RangeError);
    expect(() => fittedChange([1, 2], [1])).toThrow(RangeError);
  });
});
