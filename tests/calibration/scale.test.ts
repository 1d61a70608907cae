import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { division_N, forceOf, isSaturated } from "../../calibration/scale.ts";
import { SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS } from "../../protocol/units.ts";

/** HX711 datasheet: 24-bit two's complement over +-0.5 AVDD / gain, so AVDD / gain spans 2^24 counts. */
const AVDD_V = 5;
const LSB_V = AVDD_V / 128 / 2 ** 24;
/** Ratiometric, so independent of AVDD; value from the datasheet's full scale, computed independently. */
const COUNTS_PER_MV_V = 2_147_483.648;

/** The amplifier's bits, most significant first, as the datasheet codes them. */
const decoded = (hex: string): number => (Number.parseInt(hex, 16) << 8) >> 8;

describe("force of counts", () => {
  it("of a 2 mV/V cell of 1000 N at full load is 1000 N", () => {
    const counts_per_N = (2 * COUNTS_PER_MV_V) / 1000;
    // 2 mV/V at gain 128 is 4 294 967 counts, computed independently.
    expect(Math.round(2 * COUNTS_PER_MV_V)).toBe(4_294_967);
    expect(forceOf(4_294_967, 0, counts_per_N)).toBeCloseTo(1000, 3);
    expect(forceOf(4_294_967 + 84_123, 84_123, counts_per_N)).toBeCloseTo(1000, 3);
  });

  it("turns the datasheet's noise of 90 nV at 80 readings a second into 38.7 counts and 0.009 N", () => {
    expect(LSB_V * 1e9).toBeCloseTo(2.3283, 4);
    const noise_counts = 90e-9 / LSB_V;
    expect(noise_counts).toBeCloseTo(38.7, 1);
    expect(forceOf(noise_counts, 0, (2 * COUNTS_PER_MV_V) / 1000)).toBeCloseTo(0.009, 4);
    expect(50e-9 / LSB_V).toBeCloseTo(21.5, 1);
  });

  it("is the same force when wires are reversed and counts mirrored", () => {
    const counts = fc.integer({ min: -8_388_607, max: 8_388_606 });
    fc.assert(
      fc.property(counts, counts, fc.double({ min: 0.5, max: 1e5, noNaN: true }), (reading, zero, counts_per_N) => {
        expect(forceOf(-reading, -zero, -counts_per_N)).toBeCloseTo(forceOf(reading, zero, counts_per_N), 9);
      }),
    );
  });
});

describe("saturation", () => {
  // HX711 datasheet codes: 800000h is the lowest, 7FFFFFh the highest.
  it.each([
    ["7FFFFF", 8_388_607, true],
    ["800000", -8_388_608, true],
    ["000000", 0, false],
    ["FFFFFF", -1, false],
    ["123456", 1_193_046, false],
    ["ABCDEF", -5_517_841, false],
    ["7FFFFE", 8_388_606, false],
    ["800001", -8_388_607, false],
  ])("%s reads %d and is saturated: %s", (hex, counts, saturated) => {
    expect(decoded(hex)).toBe(counts);
    expect(isSaturated(counts)).toBe(saturated);
  });

  it("comes just above 3.906 mV/V at gain 128", () => {
    expect(isSaturated(Math.round(3.906 * COUNTS_PER_MV_V))).toBe(false);
    expect(isSaturated(Math.round(3.9063 * COUNTS_PER_MV_V))).toBe(true);
    expect([SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS]).toEqual([2 ** 23 - 1, -(2 ** 23)]);
  });
});

it("one division is a 5000th of the cell", () => {
  expect(division_N(5000)).toBe(1);
});
