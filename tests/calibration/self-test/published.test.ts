/** The figures of the self-test against published ones. */
import { describe, expect, it } from "vitest";
import { deviations, overlappingDeviation } from "../../../calibration/self-test/allan.ts";
import { bitsLeft, countAtInput_nV, datasheetNoise_counts } from "../../../calibration/self-test/noise.ts";
import { yardstickOf } from "../../../calibration/self-test/yardstick.ts";
import { FACTS } from "./boards.ts";

/** NIST SP 1065 (Riley, 2008) p. 107: nine frequency values. */
const NINE = [892, 809, 823, 798, 671, 644, 883, 903, 677];

/** NIST SP 1065 p. 108: a thousand values of the congruential generator n' = 16807 n mod 2147483647, from 1234567890. */
function thousand(): number[] {
  const values: number[] = [];
  let n = 1_234_567_890n;
  for (let index = 0; index < 1000; index += 1) {
    values.push(Number(n) / 2_147_483_647);
    n = (16_807n * n) % 2_147_483_647n;
  }
  return values;
}

describe("overlapping Allan deviation, NIST SP 1065 pp. 107-108", () => {
  it("nine values", () => {
    // At tau = 1 the overlapping and the plain deviation are the same.
    expect(overlappingDeviation(NINE, 1)).toBeCloseTo(91.22945, 5);
    expect(overlappingDeviation(NINE, 2)).toBeCloseTo(85.95287, 5);
  });

  it("the generator is the published one", () => {
    const values = thousand();
    expect(values.slice(1, 4).map((value) => Math.round(value * 2_147_483_647))).toEqual([
      395_529_916, 1_209_410_747, 633_705_974,
    ]);
    expect(values.reduce((sum, value) => sum + value, 0) / 1000).toBeCloseTo(0.4897745, 7);
  });

  it.each([
    [1, "2.922319e-1"],
    [10, "9.159953e-2"],
    [100, "3.241343e-2"],
  ])("a thousand values, tau = %d", (tau, published) => {
    expect(overlappingDeviation(thousand(), tau).toExponential(6)).toBe(published);
  });

  it("is the same about any mean: counts are large beside their noise", () => {
    const raised = NINE.map((value) => value + 8_000_000);
    expect(overlappingDeviation(raised, 2)).toBeCloseTo(85.95287, 5);
  });

  it("stops at a quarter of the values, and refuses what it cannot know", () => {
    expect(deviations(thousand(), 0.0125).map(({ readings }) => readings)).toEqual([
      1, 2, 5, 10, 20, 50, 100, 200, 250,
    ]);
    expect(deviations(thousand(), 0.0125).at(-1)?.tau_s).toBeCloseTo(3.125, 9);
    expect(() => overlappingDeviation(NINE, 5)).toThrow(RangeError);
    expect(overlappingDeviation(NINE.slice(0, 8), 4)).toBeGreaterThan(0);
  });
});

describe("HX711 datasheet (Avia)", () => {
  it("one count is 2.3283 nV at 5 V and gain 128", () => {
    // Full scale +-0.5 x supply / gain over 2^24 codes.
    expect(countAtInput_nV(5, 128)).toBeCloseTo(2.3283, 4);
    expect(countAtInput_nV(5, 128) * 2 ** 23 * 1e-6).toBeCloseTo(19.53, 2);
  });

  it("50 nV at 10 and 90 nV at 80 conversions a second are 21.5 and 38.7 counts", () => {
    expect(datasheetNoise_counts(FACTS, 10)).toBeCloseTo(21.5, 1);
    expect(datasheetNoise_counts(FACTS, 80)).toBeCloseTo(38.7, 1);
    // An unnamed board is taken for the commonest; another gain or amplifier is not in that sheet.
    expect(datasheetNoise_counts({ ...FACTS, amplifier: null, gain: null }, 94)).toBeCloseTo(38.7, 1);
    expect(datasheetNoise_counts({ ...FACTS, gain: 64 }, 80)).toBeNull();
    expect(datasheetNoise_counts({ ...FACTS, amplifier: "ads1232" }, 80)).toBeNull();
  });

  it("19.7 effective bits at gain 128 and 10 a second, which 50 nV give to within a seventh of a bit", () => {
    expect(Math.abs(bitsLeft(datasheetNoise_counts(FACTS, 10)!)! - 19.7)).toBeLessThan(0.15);
  });
});

describe("what the work needs", () => {
  it("2 mV/V is 4 294 967 counts at gain 128, whatever the supply", () => {
    const assumed = yardstickOf({ ...FACTS, counts_per_N: null });
    expect(assumed.d_counts * 5000).toBeCloseTo(4_294_967.296, 3);
    expect(yardstickOf({ ...FACTS, counts_per_N: null, gain: 64 }).d_counts * 5000).toBeCloseTo(2_147_483.648, 3);
    expect(assumed.assumed).toBe(true);
  });

  it("a fifth of a loss of a tenth at working force: 10 N of 500 N", () => {
    const { allowed_counts, drop_counts } = yardstickOf({ ...FACTS, counts_per_N: -2000 });
    expect(drop_counts / 2000).toBeCloseTo(50, 9);
    expect(allowed_counts / 2000).toBeCloseTo(10, 9);
  });
});
