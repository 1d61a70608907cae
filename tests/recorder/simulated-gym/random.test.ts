import { describe, expect, it } from "vitest";
import { normalAt, seedFor, uniformAt } from "../../../recorder/simulated-gym/random.ts";

const COUNT = 100_000;

function moments(values: readonly number[]) {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const central = (power: number) => values.reduce((sum, value) => sum + (value - mean) ** power, 0) / values.length;
  const variance = central(2);
  const lag1 =
    values.slice(1).reduce((sum, value, index) => sum + (value - mean) * (values[index]! - mean), 0) /
    (values.length * variance);
  return { mean, variance, kurtosis: central(4) / variance ** 2, lag1 };
}

describe("noise", () => {
  // Moments of the two distributions are textbook values; bounds are 5 standard errors of the estimate.
  it("is evenly distributed: mean 1/2, variance 1/12, neighbours unrelated", () => {
    const { mean, variance, lag1 } = moments(Array.from({ length: COUNT }, (_, index) => uniformAt(7, index)));
    expect(Math.abs(mean - 0.5)).toBeLessThan(5 * Math.sqrt(1 / 12 / COUNT));
    expect(Math.abs(variance - 1 / 12)).toBeLessThan(5 * Math.sqrt(1 / 180 / COUNT));
    expect(Math.abs(lag1)).toBeLessThan(5 / Math.sqrt(COUNT));
  });

  it("is normally distributed: mean 0, variance 1, kurtosis 3, neighbours unrelated", () => {
    const { mean, variance, kurtosis, lag1 } = moments(Array.from({ length: COUNT }, (_, index) => normalAt(7, index)));
    expect(Math.abs(mean)).toBeLessThan(5 / Math.sqrt(COUNT));
    expect(Math.abs(variance - 1)).toBeLessThan(5 * Math.sqrt(2 / COUNT));
    expect(Math.abs(kurtosis - 3)).toBeLessThan(5 * Math.sqrt(24 / COUNT));
    expect(Math.abs(lag1)).toBeLessThan(5 / Math.sqrt(COUNT));
  });

  it("of two sources or two seeds is unrelated", () => {
    for (const [one, other] of [
      [seedFor(1, "rig"), seedFor(1, "board")],
      [seedFor(1, "rig"), seedFor(2, "rig")],
      [1, 2],
    ] as const) {
      let product = 0;
      for (let index = 0; index < COUNT; index++) product += normalAt(one, index) * normalAt(other, index);
      expect(Math.abs(product / COUNT)).toBeLessThan(5 / Math.sqrt(COUNT));
    }
  });

  it("is the same for the same seed and index, in any order", () => {
    const later = normalAt(3, 500);
    for (let index = 0; index < 10; index++) normalAt(3, index);
    expect(normalAt(3, 500)).toBe(later);
  });
});
