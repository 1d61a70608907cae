import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { classTolerance, MASS_CLASSES } from "../../../calibration/procedure/mass-classes.ts";

const toleranceOf = (mass_class: string, mass_kg: number): number => {
  const found = classTolerance(mass_class, mass_kg);
  if (!found.ok) throw new Error(found.message);
  return found.relative_tolerance;
};

describe("the limits of a weight's class, OIML R 111-1:2004 table 1", () => {
  // M1 to M3 as a national ordinance quotes them (Greece, market rules, article 146), mg.
  it.each([
    ["M1", 50, 2500],
    ["M1", 20, 1000],
    ["M1", 10, 500],
    ["M1", 5, 250],
    ["M1", 1, 50],
    ["M1", 0.5, 25],
    ["M1", 0.05, 3],
    ["M2", 20, 3000],
    ["M2", 10, 1600],
    ["M2", 1, 160],
    ["M3", 50, 25_000],
    ["M3", 20, 10_000],
    ["M3", 5, 2500],
    ["M3", 0.1, 50],
    // The finer classes from a calibration laboratory's copy of the table, mg.
    ["E1", 5, 2.5],
    ["E2", 2, 3],
    ["F1", 1, 5],
    ["F2", 5, 80],
    ["F2", 0.5, 8],
  ])("%s of %d kg: %d mg", (mass_class, mass_kg, error_mg) => {
    expect(toleranceOf(mass_class, mass_kg)).toBeCloseTo(error_mg / (mass_kg * 1e6), 15);
  });

  it("is never finer for a coarser class", () => {
    const mass = fc.double({ min: 0.001, max: 50, noNaN: true });
    fc.assert(
      fc.property(mass, fc.integer({ min: 1, max: MASS_CLASSES.length - 1 }), (mass_kg, index) => {
        const [finer, coarser] = [MASS_CLASSES[index - 1] ?? "", MASS_CLASSES[index] ?? ""];
        expect(toleranceOf(coarser, mass_kg)).toBeGreaterThan(toleranceOf(finer, mass_kg));
      }),
    );
  });

  it("covers a load made of several weights of 100 g and more, whose limits add up", () => {
    const nominal_kg = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50];
    fc.assert(
      fc.property(fc.array(fc.constantFrom(...nominal_kg), { minLength: 1, maxLength: 6 }), (weights_kg) => {
        const sum_kg = weights_kg.reduce((sum, kg) => sum + kg, 0);
        const errors_kg = weights_kg.reduce((sum, kg) => sum + kg * toleranceOf("M1", kg), 0);
        expect(errors_kg / sum_kg).toBeLessThanOrEqual(toleranceOf("M1", sum_kg) * (1 + 1e-9));
      }),
    );
  });

  it("takes the worse of the two neighbours in between", () => {
    // E2: 2 kg +-3 mg is 1.5e-6, 5 kg +-8 mg is 1.6e-6; 3 kg of them are 2 + 1 kg: (3 + 1.6) mg / 3 kg = 1.533e-6.
    expect(toleranceOf("E2", 3)).toBeCloseTo(1.6e-6, 15);
  });

  it("is typed in either case", () => {
    expect(toleranceOf(" m1", 20)).toBe(toleranceOf("M1", 20));
  });

  it("says which classes there are, and where the table ends", () => {
    expect(classTolerance("M4", 20)).toEqual({
      ok: false,
      message: "M4 is no class of weights: use one of E1, E2, F1, F2, M1, M2, M3.",
    });
    expect(classTolerance("E1", 60)).toEqual({
      ok: false,
      message: "Class E1 has weights from 0.001 to 50 kg: give the tolerance as a percentage.",
    });
    expect(classTolerance("M1", 0.0005).ok).toBe(false);
  });
});
