import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { median3 } from "../../calibration/median.ts";

const counts = fc.integer({ min: -8_388_608, max: 8_388_607 });

/** The causal filter: the value at a reading is the median of it and the two before. */
function filtered(values: readonly number[]): number[] {
  return values.slice(2).map((value, i) => median3(values[i]!, values[i + 1]!, value));
}

describe("the median of three", () => {
  it("is the middle one in every order", () => {
    fc.assert(
      fc.property(counts, counts, counts, (a, b, c) => {
        const middle = [a, b, c].sort((p, q) => p - q)[1];
        for (const [x, y, z] of [
          [a, b, c],
          [a, c, b],
          [b, a, c],
          [b, c, a],
          [c, a, b],
          [c, b, a],
        ] as const) {
          expect(median3(x, y, z)).toBe(middle);
        }
      }),
    );
  });

  it("removes any single spike from a steady signal exactly, whatever its size and place", () => {
    fc.assert(
      fc.property(counts, counts, fc.nat(19), (steady, spike, at) => {
        const values = new Array<number>(20).fill(steady);
        values[at] = spike;
        expect(filtered(values)).toEqual(new Array<number>(18).fill(steady));
      }),
    );
  });

  it("passes a step without overshoot, one reading late", () => {
    fc.assert(
      fc.property(counts, counts, (before, after) => {
        const out = filtered([before, before, before, before, after, after, after, after]);
        expect(out).toEqual([before, before, before, after, after, after]);
      }),
    );
  });

  it("never leaves the range of the readings, and moves no further than they do when one is replaced", () => {
    fc.assert(
      fc.property(fc.array(counts, { minLength: 5, maxLength: 40 }), counts, fc.nat(), (values, spike, where) => {
        const at = where % values.length;
        const spiked = [...values];
        spiked[at] = spike;
        let largest_step = 0;
        for (let i = 0; i < values.length; i += 1) {
          for (let j = i + 1; j <= Math.min(i + 2, values.length - 1); j += 1) {
            largest_step = Math.max(largest_step, Math.abs(values[j]! - values[i]!));
          }
        }
        const clean = filtered(values);
        for (const [i, value] of filtered(spiked).entries()) {
          expect(Math.abs(value - clean[i]!)).toBeLessThanOrEqual(largest_step);
        }
      }),
    );
  });
});
