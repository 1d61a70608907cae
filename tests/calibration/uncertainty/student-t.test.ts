import { describe, expect, it } from "vitest";
import { studentT95 } from "../../../calibration/uncertainty/student-t.ts";

/** Two-sided 95 % points of the common tables. */
const PUBLISHED = [
  [1, 12.706],
  [2, 4.303],
  [3, 3.182],
  [4, 2.776],
  [5, 2.571],
  [8, 2.306],
  [9, 2.262],
  [10, 2.228],
] as const;

/** What lies within t either way, the density integrated by Simpson's rule in angle: t = tan(a) sqrt(n) leaves cos^(n-1). */
function covered(t: number, degrees: number): number {
  const integral = (to: number): number => {
    const steps = 20_000;
    const h = to / steps;
    let sum = 0;
    for (let i = 0; i <= steps; i += 1) {
      const weight = i === 0 || i === steps ? 1 : i % 2 === 0 ? 2 : 4;
      sum += weight * Math.cos(i * h) ** (degrees - 1);
    }
    return (sum * h) / 3;
  };
  return integral(Math.atan(t / Math.sqrt(degrees))) / integral(Math.PI / 2);
}

describe("Student's t", () => {
  it.each(PUBLISHED)("for %d degrees of freedom is %d, as published", (degrees, t) => {
    expect(studentT95(degrees)).toBe(t);
  });

  it("covers 95 of 100, by the distribution itself", () => {
    for (let degrees = 1; degrees <= 10; degrees += 1) {
      expect(covered(studentT95(degrees), degrees)).toBeCloseTo(0.95, 4);
    }
    // And no less beyond.
    for (const degrees of [15, 40, 200]) {
      expect(covered(studentT95(degrees), degrees)).toBeGreaterThan(0.95);
      expect(covered(studentT95(degrees), degrees)).toBeLessThan(0.98);
    }
  });

  it("does not exist for nothing", () => {
    expect(() => studentT95(0)).toThrow(RangeError);
  });
});
