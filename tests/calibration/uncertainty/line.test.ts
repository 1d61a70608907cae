import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { lineThrough, pointShares } from "../../../calibration/uncertainty/line.ts";
import { combined, expanded_N, largest, rectangular } from "../../../calibration/uncertainty/uncertainty.ts";

/**
 * Two-point calibration of a pressure sensor with uncertainty: Kessel, Kacker and Sommer, Measurement 45 (2012) 1661,
 * table 4 and its results, read in the documentation of a public uncertainty library that works the example.
 */
const INDICATIONS = [0, 0.2039, 0.408, 0.612, 0.816, 1.0201, 1.2242, 1.4283, 1.6325, 1.8367, 2.041];
const PRESSURES = [0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20];
const u_res = rectangular(0.00005);
const first = { x: 0, u_x: u_res, y: 0, u_y: 0 };
const last = { x: 2.041, u_x: u_res, y: 20, u_y: 20 * 0.000115 };
const PUBLISHED = {
  slope: 9.799118079372857,
  u_slope: 0.0011438175474686209,
  u_intercept: 0.0002828761730473424,
  r: -0.12117041864179227,
};

describe("the published two-point calibration", () => {
  it("has the published slope and intercept", () => {
    const { slope, intercept } = lineThrough(first, last);
    expect(slope).toBeCloseTo(PUBLISHED.slope, 12);
    expect(intercept).toBe(0);
  });

  it("propagates to what the published uncertainties and their correlation give, all along the line", () => {
    for (const x of [0, 0.5, 1, 2.041, 3, -1]) {
      const { a, b } = pointShares(first, last, x);
      const { u_slope, u_intercept, r } = PUBLISHED;
      const published = Math.sqrt(u_intercept ** 2 + (x * u_slope) ** 2 + 2 * x * r * u_intercept * u_slope);
      expect(combined(a, b)).toBeCloseTo(published, 14);
    }
  });

  it("gives the published expanded uncertainties of all eleven pressures with their linearity added", () => {
    // Table 7. It was worked from rounded parameters (0.00028, 0.00114, -0.1212), so agreement is to 3 parts in 1000.
    const table = [
      0.00582812, 0.00584124, 0.00589119, 0.00597701, 0.0060972, 0.00624986, 0.00643263, 0.00664303, 0.00687865,
      0.00713689, 0.00741554,
    ];
    const u_lin = rectangular(0.005);
    for (const [i, x] of INDICATIONS.entries()) {
      const shares = pointShares(first, last, x);
      const budget = [
        { source: "first point", standard_uncertainty_N: shares.a },
        { source: "last point", standard_uncertainty_N: shares.b },
        { source: "reading", standard_uncertainty_N: lineThrough(first, last).slope * u_res },
        { source: "linearity", standard_uncertainty_N: u_lin },
      ];
      expect(Math.abs(expanded_N(budget) / table[i]! - 1)).toBeLessThan(0.003);
      expect(largest(budget).source).toBe("linearity");
    }
  });

  it("says nothing of the 0.0039 by which the points between lie off the line", () => {
    const { slope, intercept } = lineThrough(first, last);
    const off = INDICATIONS.map((x, i) => PRESSURES[i]! - (intercept + slope * x));
    expect(Math.max(...off.map(Math.abs))).toBeCloseTo(0.0039, 4);
    const { a, b } = pointShares(first, last, 1.0201);
    expect(Math.max(...off.map(Math.abs))).toBeGreaterThan(3 * combined(a, b));
  });
});

describe("a real load cell (NIST StRD Pontius)", () => {
  const rows = readFileSync(new URL("../data/pontius.dat", import.meta.url), "utf8")
    .split("\n")
    .slice(60, 100)
    .map((line) => line.trim().split(/\s+/).map(Number))
    .map(([y, x]) => ({ x: x!, y: y!, u_x: 0, u_y: 0 }));

  it("fits a straight line with R2 above 0.99998 and still bends by three of that line's residual deviations", () => {
    const n = rows.length;
    expect(n).toBe(40);
    const x_mean = rows.reduce((sum, row) => sum + row.x, 0) / n;
    const y_mean = rows.reduce((sum, row) => sum + row.y, 0) / n;
    const xx = rows.reduce((sum, row) => sum + (row.x - x_mean) ** 2, 0);
    const xy = rows.reduce((sum, row) => sum + (row.x - x_mean) * (row.y - y_mean), 0);
    const yy = rows.reduce((sum, row) => sum + (row.y - y_mean) ** 2, 0);
    // NIST/SEMATECH handbook 4.6.1: R2 of the straight-line misfit is 0.999988519.
    expect((xy * xy) / (xx * yy)).toBeCloseTo(0.999988519115219, 12);
    const line = lineThrough(rows[0]!, rows[n / 2 - 1]!);
    const off = rows.map((row) => row.y - (line.intercept + line.slope * row.x));
    // The chord of the certified quadratic: |B2| (x1 - x0)^2 / 4 = 6.419e-3, within 3 certified residual deviations.
    const bend = (0.316081871345029e-14 * (3_000_000 - 150_000) ** 2) / 4;
    expect(Math.abs(Math.max(...off) - bend)).toBeLessThan(3 * 0.205177424076185e-3);
    // Residual deviation of the straight-line misfit, same handbook page.
    expect(Math.max(...off)).toBeGreaterThan(2.5 * 0.002171);
  });
});

describe("combining", () => {
  it("agrees with the GUM's end-gauge budget: 32 nm from its components", () => {
    // JCGM 100:2008 H.1, components as worked in a public uncertainty library: 31.66 nm.
    expect(combined(25, 5.8, 3.9, 6.7, 2.887, 16.599)).toBeCloseTo(31.66, 1);
  });

  it("names the largest line, wherever it stands, and wants one", () => {
    expect(() => largest([])).toThrow(TypeError);
    expect(expanded_N([])).toBe(0);
    const budget = [
      { source: "a", standard_uncertainty_N: 2 },
      { source: "b", standard_uncertainty_N: 1 },
    ];
    expect(largest(budget).source).toBe("a");
    expect(largest([...budget].reverse()).source).toBe("a");
  });
});
