import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { median3 } from "../../calibration/median.ts";
import { STILLNESS_UNKNOWN, type Stillness, stepStillness } from "../../calibration/stillness.ts";
import { frozen } from "./frozen.ts";
import { seededNoise } from "./seeded-noise.ts";

const CAPACITY_N = 5000;
/** Standard deviation of the median of three independent normal values: sqrt(1 - sqrt(3)/pi), order statistics. */
const MEDIAN_SD = Math.sqrt(1 - Math.sqrt(3) / Math.PI);

interface Signal {
  readonly rate_Hz: number;
  readonly seconds: number;
  readonly sd_N: number;
  readonly force_N?: (at_s: number) => number;
  readonly seed?: number;
}

/** Feeds the median of three of a noisy force. */
function fed(
  signal: Signal,
  from: Stillness = STILLNESS_UNKNOWN,
  from_us = 0,
  seen?: (state: Stillness) => void,
): Stillness {
  const noise = seededNoise(signal.seed ?? 1);
  const raw = (i: number): number => (signal.force_N?.(i / signal.rate_Hz) ?? 0) + noise(signal.sd_N);
  let state = from;
  let [a, b] = [raw(0), raw(1)];
  for (let i = 2; i < signal.seconds * signal.rate_Hz; i += 1) {
    const c = raw(i);
    state = stepStillness(
      frozen(state),
      from_us + Math.round((i * 1e6) / signal.rate_Hz),
      median3(a, b, c),
      CAPACITY_N,
    );
    seen?.(state);
    [a, b] = [b, c];
  }
  return state;
}

describe("noise at rest", () => {
  it.each([10, 50, 80, 94])("at %d readings a second is the median filter's share of the amplifier's", (rate_Hz) => {
    const { judged } = fed({ rate_Hz, seconds: 60, sd_N: 0.1 });
    expect(judged.still).toBe(true);
    expect(judged.noise_N! / (0.1 * MEDIAN_SD)).toBeGreaterThan(0.85);
    expect(judged.noise_N! / (0.1 * MEDIAN_SD)).toBeLessThan(1.15);
  });

  it("does not count drift: 1 N a second leaves it as it is", () => {
    const { judged } = fed({ rate_Hz: 80, seconds: 60, sd_N: 0.1, force_N: (at_s) => at_s });
    expect(judged.noise_N! / (0.1 * MEDIAN_SD)).toBeLessThan(1.15);
  });

  it("of a poor board is still noise and not movement, up to half a percent of capacity", () => {
    expect(fed({ rate_Hz: 80, seconds: 30, sd_N: 10 }).judged.still).toBe(true);
    expect(fed({ rate_Hz: 80, seconds: 30, sd_N: 60 }).judged).toMatchObject({ still: false, noise_N: null });
  });

  it("is zero for a sensor that says the same, and never learns from movement", () => {
    expect(fed({ rate_Hz: 80, seconds: 5, sd_N: 0 }).judged).toMatchObject({ still: true, noise_N: 0 });
    const quiet = fed({ rate_Hz: 80, seconds: 20, sd_N: 0.1 });
    const moving = fed({ rate_Hz: 80, seconds: 20, sd_N: 0.1, force_N: (at_s) => 100 * at_s }, quiet, 30e6);
    expect(moving.judged.still).toBe(false);
    expect(moving.judged.noise_N).toBe(quiet.judged.noise_N);
  });

  it("follows a change within half a minute", () => {
    const quiet = fed({ rate_Hz: 80, seconds: 30, sd_N: 0.1 });
    const louder = fed({ rate_Hz: 80, seconds: 30, sd_N: 1 }, quiet, 30e6);
    expect(louder.judged.noise_N! / MEDIAN_SD).toBeGreaterThan(0.85);
  });
});

describe("stillness", () => {
  it("needs two blocks of a second that agree", () => {
    const when: number[] = [];
    fed({ rate_Hz: 80, seconds: 5, sd_N: 0.05 }, STILLNESS_UNKNOWN, 0, (state) => {
      if (state.judged.still) when.push(state.last_us);
    });
    expect(when[0]).toBeGreaterThanOrEqual(2_000_000);
    expect(when[0]).toBeLessThan(2_100_000);
  });

  it.each([8, 10, 80])("at %d readings a second does not take a ramp for stillness", (rate_Hz) => {
    for (const per_s of [10, -10, 100]) {
      let still = 0;
      fed({ rate_Hz, seconds: 20, sd_N: 0.05, force_N: (at_s) => per_s * at_s }, STILLNESS_UNKNOWN, 0, (state) => {
        if (state.judged.still) still += 1;
      });
      expect(still).toBe(0);
    }
  });

  it("does not take a swinging load for stillness at 80 readings a second", () => {
    for (const swing_Hz of [0.3, 0.7, 1, 2]) {
      const swing = (at_s: number): number => 20 * Math.sin(2 * Math.PI * swing_Hz * at_s);
      const { judged } = fed({ rate_Hz: 80, seconds: 20, sd_N: 0.05, force_N: swing });
      expect(judged).toMatchObject({ still: false, noise_N: null });
    }
  });

  it("ends with the first reading outside the band of 4 d, and 4 d itself is inside", () => {
    const still = fed({ rate_Hz: 80, seconds: 5, sd_N: 0 });
    expect(stepStillness(still, 5_000_000, 4, CAPACITY_N).judged.still).toBe(true);
    expect(stepStillness(still, 5_000_000, 4.001, CAPACITY_N).judged.still).toBe(false);
    expect(stepStillness(still, 5_000_000, -4.001, CAPACITY_N).judged.still).toBe(false);
    const jolted = stepStillness(still, 5_000_000, 50, CAPACITY_N);
    expect(stepStillness(jolted, 5_012_500, 0, CAPACITY_N).judged.still).toBe(false);
  });

  it("a step of the mean of 2 d is still, and just above is not", () => {
    const stepped = (by_N: number): boolean => {
      const force_N = (at_s: number): number => (at_s < 5.013 ? 0 : by_N);
      let seen = true;
      fed({ rate_Hz: 80, seconds: 6.5, sd_N: 0, force_N }, STILLNESS_UNKNOWN, 0, (state) => {
        if (state.last_us > 2_200_000) seen = seen && state.judged.still;
      });
      return seen;
    };
    expect(stepped(1.99)).toBe(true);
    expect(stepped(2.5)).toBe(false);
  });

  it("starts afresh after 300 ms without readings or when time steps back, keeping the noise it knew", () => {
    const still = fed({ rate_Hz: 80, seconds: 10, sd_N: 0.1 });
    expect(stepStillness(still, still.last_us + 300_000, 0, CAPACITY_N).judged.still).toBe(true);
    expect(stepStillness(still, still.last_us, 0, CAPACITY_N).judged.still).toBe(true);
    for (const at_us of [still.last_us + 300_001, still.last_us - 1]) {
      const { judged } = stepStillness(still, at_us, 0, CAPACITY_N);
      expect(judged.still).toBe(false);
      expect(judged.noise_N).toBe(still.judged.noise_N);
    }
  });

  it("one impulse at any index leaves it alone, behind the median", () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 399 }), fc.integer({ min: -9000, max: 9000 }), (at, spike_N) => {
        const noise = seededNoise(4);
        const raw = Array.from({ length: 400 }, () => noise(0.1));
        raw[at] = spike_N;
        let state = STILLNESS_UNKNOWN;
        for (let i = 2; i < raw.length; i += 1) {
          state = stepStillness(state, i * 12_500, median3(raw[i - 2]!, raw[i - 1]!, raw[i]!), CAPACITY_N);
          if (i > 200) expect(state.judged.still).toBe(true);
        }
        expect(state.judged.noise_N!).toBeLessThan(0.1);
      }),
    );
  });

  it("is judged by the cell: on one of 1000 N a fifth of the movement is too much", () => {
    const resting = (i: number): number => 300 + 0.05 * Math.sin(i);
    let state = STILLNESS_UNKNOWN;
    for (let i = 0; i < 400; i += 1) state = stepStillness(state, i * 12_500, resting(i), 1000);
    expect(state.judged.still).toBe(true);
    // 4 d is 0.8 N here; the mean in the middle is 300 N.
    expect(stepStillness(state, 4_995_000, 300.79, 1000).judged.still).toBe(true);
    expect(stepStillness(state, 4_995_000, 300.81, 1000).judged.still).toBe(false);
    expect(stepStillness(state, 4_995_000, -300, 1000).judged.still).toBe(false);
    // Noise at half a percent of capacity, 5 N, from differences three readings apart of a square wave.
    const squared = (amplitude_N: number): boolean => {
      let noisy = STILLNESS_UNKNOWN;
      for (let i = 0; i < 400; i += 1) noisy = stepStillness(noisy, i * 12_500, i % 2 === 0 ? amplitude_N : 0, 1000);
      return noisy.judged.still;
    };
    expect(squared(5 * Math.SQRT2 * 0.999)).toBe(true);
    expect(squared(5 * Math.SQRT2 * 1.001)).toBe(false);
  });

  it("widens its bands with the noise: a mean may step by three standard errors of its blocks", () => {
    // Square wave of noise N: 80 readings tied in threes, two means, so 3 x sqrt(6/80) = 0.82 N apart.
    const noise_N = 10;
    const stepped = (step_N: number): boolean => {
      let state = STILLNESS_UNKNOWN;
      for (let i = 0; i <= 400; i += 1) {
        const wave_N = (i % 2 === 0 ? 1 : 0) * noise_N * Math.SQRT2;
        state = stepStillness(state, i * 12_500, wave_N + (i > 320 ? step_N : 0), CAPACITY_N);
      }
      return state.judged.still;
    };
    const limit_N = 3 * Math.sqrt(6 / 80) * noise_N;
    expect(stepped(limit_N * 0.97)).toBe(true);
    expect(stepped(limit_N * 1.1)).toBe(false);
  });

  it("mirrored forces are just as still and as noisy", () => {
    const plain = fed({ rate_Hz: 80, seconds: 10, sd_N: 0.1 });
    let mirrored = STILLNESS_UNKNOWN;
    const noise = seededNoise(1);
    const raw = Array.from({ length: 800 }, () => -noise(0.1));
    for (let i = 2; i < raw.length; i += 1) {
      const force_N = median3(raw[i - 2]!, raw[i - 1]!, raw[i]!);
      mirrored = stepStillness(mirrored, Math.round((i * 1e6) / 80), force_N, CAPACITY_N);
    }
    expect(mirrored.judged.noise_N).toBeCloseTo(plain.judged.noise_N!, 12);
  });
});
