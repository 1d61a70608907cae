/** Unit constants against their definitions, and the one rounding. */
import { describe, expect, it } from "vitest";
import {
  forceOut,
  fractionOut,
  fromNewtons,
  KGF_N,
  LBF_N,
  measureOut,
  noiseOut,
  POUND_KG,
  STANDARD_GRAVITY_M_S2,
  timeOut,
} from "../../protocol/units.ts";

describe("constants", () => {
  it("standard gravity is the conventional value of the 3rd CGPM (1901), exact", () => {
    expect(STANDARD_GRAVITY_M_S2).toBe(9.80665);
  });

  it("a kilogram-force is a kilogram under it, a pound-force a pound", () => {
    // NIST SP 811, appendix B, lists 9.80665 and 4.448222 (values from memory, the full digits computed).
    expect(KGF_N).toBe(9.80665);
    expect(LBF_N).toBeCloseTo(POUND_KG * STANDARD_GRAVITY_M_S2, 13);
    expect(LBF_N).toBe(4.4482216152605);
  });

  it("100 lbf is 444.82216 N and 45.359237 kgf", () => {
    expect(fromNewtons(444.82216152605, "lbf")).toBeCloseTo(100, 10);
    expect(fromNewtons(444.82216152605, "kgf")).toBeCloseTo(45.359237, 10);
    expect(fromNewtons(12.5, "N")).toBe(12.5);
  });
});

describe("rounding on the way out", () => {
  it.each([
    ["force", forceOut, 123.456, 123.46],
    ["noise", noiseOut, 0.00449, 0.0045],
    ["time", timeOut, 1.23456, 1.235],
    ["a fraction", fractionOut, 0.400049, 0.4],
    ["anything else", measureOut, 80.0051, 80.01],
  ] as const)("%s", (_, round, value, rounded) => expect(round(value)).toBe(rounded));

  it("what is no number is not known, and minus zero is zero", () => {
    for (const value of [null, Number.NaN, Number.POSITIVE_INFINITY]) expect(forceOut(value)).toBeNull();
    expect(Object.is(forceOut(-0.001), 0)).toBe(true);
  });
});
