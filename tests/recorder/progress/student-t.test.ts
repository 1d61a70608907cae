/**
 * Student's t against the common tables (two-sided; values of the standard tables, recomputed), and against a statistics library
 * that computes it for every number of degrees.
 */
import jstat from "jstat";
import { describe, expect, it } from "vitest";
import { type Confidence, studentT } from "../../../recorder/progress/student-t.ts";

describe("the common tables", () => {
  it.each([
    [1, 12.706, 63.657],
    [2, 4.303, 9.925],
    [3, 3.182, 5.841],
    [4, 2.776, 4.604],
    [5, 2.571, 4.032],
    [8, 2.306, 3.355],
    [9, 2.262, 3.25],
    [10, 2.228, 3.169],
    [15, 2.131, 2.947],
    [20, 2.086, 2.845],
    [30, 2.042, 2.75],
    [50, 2.009, 2.678],
    [100, 1.984, 2.626],
  ])("%d degrees of freedom: %d for 95 %%, %d for 99 %%", (degrees, at_95, at_99) => {
    expect(studentT(degrees, 0.95)).toBe(at_95);
    expect(studentT(degrees, 0.99)).toBe(at_99);
  });

  it("a known error: the normal distribution, 1.960 and 2.576", () => {
    expect(studentT(null, 0.95)).toBe(1.96);
    expect(studentT(null, 0.99)).toBe(2.576);
    expect(studentT(Number.POSITIVE_INFINITY, 0.95)).toBe(1.96);
  });
});

describe.each<Confidence>([0.95, 0.99])("beside a library that computes it, two-sided %d", (confidence) => {
  const exact = (degrees: number): number => jstat.studentt.inv((1 + confidence) / 2, degrees);
  const within = (degrees: number): number => Math.abs(studentT(degrees, confidence) / exact(degrees) - 1);

  it("is within a thousandth from four degrees on, the fewest that an error of one's own may have, whole or not", () => {
    for (let degrees = 4; degrees < 400; degrees *= 1.005) expect(within(degrees), `${degrees}`).toBeLessThan(0.001);
    for (let degrees = 3; degrees <= 120; degrees++) expect(within(degrees), `${degrees}`).toBeLessThan(0.001);
  });

  it("is within three thousandths from three on", () => {
    for (let degrees = 3; degrees < 4; degrees += 0.01) expect(within(degrees), `${degrees}`).toBeLessThan(0.003);
  });

  it("falls with every degree, and never below the normal distribution", () => {
    let before = Number.POSITIVE_INFINITY;
    for (let degrees = 1; degrees < 1000; degrees *= 1.02) {
      const t = studentT(degrees, confidence);
      expect(t).toBeLessThan(before);
      before = t;
    }
    expect(before).toBeGreaterThan(studentT(null, confidence));
  });
});

it.each([0.99, 0, -1, Number.NaN])("there is none for %d degrees of freedom", (degrees) => {
  expect(() => studentT(degrees, 0.95)).toThrow(RangeError);
});
