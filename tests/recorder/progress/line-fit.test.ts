/** The least-squares line against certified values, an independent library, and an independent way to its prediction. */
import { readFileSync } from "node:fs";
import { linearRegression, mean } from "simple-statistics";
import { describe, expect, it } from "vitest";
import { levelThrough, lineThrough, onLine, predictionError } from "../../../recorder/progress/line-fit.ts";
import { normalAt, seedFor, uniformAt } from "../../../recorder/simulated-gym/random.ts";
import { frozen } from "../../calibration/frozen.ts";

const digits = (value: number, certified: number): number => -Math.log10(Math.abs(value / certified - 1));

describe("NIST StRD Norris, calibration of ozone monitors (the data file, as distributed with a public statistics library)", () => {
  const rows = readFileSync(new URL("../../calibration/data/norris.dat", import.meta.url), "utf8")
    .split("\n")
    .slice(60, 96)
    .map((line) => line.trim().split(/\s+/).map(Number));
  const x = frozen(rows.map((row) => row[1]!));
  const y = frozen(rows.map((row) => row[0]!));
  const line = lineThrough(x, y);

  it("has the certified slope and intercept to nine digits and more", () => {
    expect(rows).toHaveLength(36);
    expect(digits(line.slope, 1.00211681802045)).toBeGreaterThan(11);
    expect(digits(line.intercept, -0.262323073774029)).toBeGreaterThan(9);
  });

  it("has the certified standard deviations of both: the intercept's is the line's own at zero", () => {
    const s = 0.884796396144373;
    expect(digits(s / Math.sqrt(line.x_squares), 0.429796848199937e-3)).toBeGreaterThan(9);
    // Of a new point the scatter of one point is in it as well.
    const at_zero = Math.sqrt(predictionError(line, 0) ** 2 - 1);
    expect(digits(s * at_zero, 0.232818234301152)).toBeGreaterThan(9);
  });
});

describe("beside a general library", () => {
  it.each([1, 2, 3, 4, 5])("the line of random points %d", (seed) => {
    const x = Array.from({ length: 4 + 3 * seed }, (_, index) => 100 * uniformAt(seedFor(seed, "x"), index));
    const y = x.map((value, index) => 7 - 0.3 * value + normalAt(seedFor(seed, "y"), index));
    const { m, b } = linearRegression(x.map((value, index) => [value, y[index]!]));
    const line = lineThrough(x, y);
    expect(line.slope).toBeCloseTo(m, 9);
    expect(line.intercept).toBeCloseTo(b, 9);
    expect(onLine(line, 40)).toBeCloseTo(m * 40 + b, 9);
    expect(levelThrough(y)).toMatchObject({ slope: 0, points: y.length });
    expect(onLine(levelThrough(y), 40)).toBeCloseTo(mean(y), 9);
  });
});

/** The prediction is a weighted sum of the points; with one unit of error each, its variance is the sum of squared weights. */
function errorByWeights(x: readonly number[], at: number): number {
  const weights = x.map((_, one) => {
    const unit = x.map((__, other) => (other === one ? 1 : 0));
    const { m, b } = linearRegression(x.map((value, index) => [value, unit[index]!]));
    return m * at + b;
  });
  return Math.sqrt(1 + weights.reduce((sum, weight) => sum + weight ** 2, 0));
}

describe("the error of a prediction", () => {
  it.each([
    [[-30, -22, -15, -9, -8, -3], 0],
    [[0, 1, 2, 3, 4, 5, 6, 7, 8, 9], 10],
    [[0, 1, 2, 3, 4, 5, 6, 7, 8, 9], 4.5],
  ])("from the weights of its points: %j at %d", (x, at) => {
    const line = lineThrough(
      x,
      x.map((value) => 3 * value),
    );
    expect(predictionError(line, at)).toBeCloseTo(errorByWeights(x, at), 9);
  });

  it("of a level: 1 + 1/n, wherever", () => {
    expect(predictionError(levelThrough([5, 6, 7, 8]), 0)).toBeCloseTo(Math.sqrt(1.25), 12);
    expect(predictionError(levelThrough([5, 6, 7, 8]), 99)).toBeCloseTo(Math.sqrt(1.25), 12);
  });

  it("holds in a simulation: new points scatter by it around the line", () => {
    const x = [-30, -22, -15, -9, -8, -3];
    let squares = 0;
    for (let seed = 0; seed < 4000; seed++) {
      const y = x.map((value, index) => 0.01 * value + normalAt(seedFor(seed, "point"), index));
      squares += (normalAt(seedFor(seed, "new"), 0) - onLine(lineThrough(x, y), 0)) ** 2;
    }
    const said = predictionError(lineThrough(x, x), 0);
    expect(Math.abs(Math.sqrt(squares / 4000) / said - 1)).toBeLessThan(0.03);
  });
});

describe("odd points", () => {
  it("are a level line where their x are all alike, or one", () => {
    expect(lineThrough([3, 3, 3], [1, 2, 6])).toMatchObject({ slope: 0, intercept: 3 });
    expect(lineThrough([3], [4])).toMatchObject({ slope: 0, intercept: 4 });
  });

  it("are refused where there are none or not as many y", () => {
    expect(() => lineThrough([], [])).toThrow(RangeError);
    expect(() => lineThrough([1, 2], [1])).toThrow(RangeError);
    expect(() => levelThrough([])).toThrow(RangeError);
  });
});
