import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  CAPTURE_BEGUN,
  DWELL_US,
  type StillLimits,
  type StillResult,
  type StillWindow,
  stepStillWindow,
  unrest,
  WINDOW_US,
} from "../../../calibration/procedure/still-window.ts";
import { frozen } from "../frozen.ts";
import { seededNoise } from "../seeded-noise.ts";

const LIMITS: StillLimits = { dwell_us: DWELL_US, window_us: WINDOW_US, moving_counts: 400, counts_per_N: null };

interface Fed {
  readonly result: StillResult | null;
  readonly at_us: number;
  readonly state: StillWindow;
}

/** Feeds readings until the capture answers or they run out. */
function fed(
  counts: (at_us: number) => number,
  times_us: Iterable<number>,
  limits = LIMITS,
  from = CAPTURE_BEGUN,
): Fed {
  let state = from;
  let last_us = 0;
  for (const at_us of times_us) {
    const step = stepStillWindow(frozen(state), at_us, counts(at_us), limits);
    state = step.state;
    last_us = at_us;
    if (step.result !== null) return { result: step.result, at_us, state };
  }
  return { result: null, at_us: last_us, state };
}

function* every(period_us: number, until_us: number, from_us = 0): Iterable<number> {
  for (let at_us = from_us; at_us <= until_us; at_us += period_us) yield Math.round(at_us);
}

const code = (result: StillResult | null): string | null => (result === null || result.ok ? null : result.error.code);

describe("a capture", () => {
  it.each([8, 10, 50, 80, 94, 100])("at %d readings a second answers when dwell and window are over", (rate_Hz) => {
    const { result, at_us } = fed(() => 84_123, every(1e6 / rate_Hz, 30e6));
    expect(at_us).toBeGreaterThanOrEqual(23_000_000);
    expect(at_us).toBeLessThan(23_000_000 + 1e6 / rate_Hz + 1);
    if (!result?.ok) throw new Error("was refused");
    expect(result.point.mean_counts).toBe(84_123);
    expect(Math.abs(result.point.readings - 3 * rate_Hz)).toBeLessThanOrEqual(2);
  });

  it("does not mind what happens during the dwell, and sees what happens right after", () => {
    const swing = (until_us: number) => (at_us: number) => (at_us < until_us ? 50_000 * Math.sin(at_us / 1e5) : 1000);
    expect(fed(swing(20_000_000), every(12_500, 30e6)).result?.ok).toBe(true);
    expect(code(fed(swing(21_500_000), every(12_500, 30e6)).result)).toBe("not-still");
  });

  it("reports mean, noise and standard error of what it read", () => {
    const noise = seededNoise(3);
    const { result } = fed(() => 1000 + Math.round(noise(39)), every(12_500, 30e6));
    if (!result?.ok) throw new Error("was refused");
    expect(Math.abs(result.point.mean_counts - 1000)).toBeLessThan(4 * result.point.standard_error_counts);
    expect(result.point.noise_counts).toBeGreaterThan(34);
    expect(result.point.noise_counts).toBeLessThan(44);
  });

  it("restarts, dwell included, after a gap, and takes 300 ms for none", () => {
    const times = (gap_us: number) => [...every(12_500, 22_000_000), ...every(12_500, 60e6, 22_000_000 + gap_us)];
    expect(fed(() => 5, times(300_000)).at_us).toBeLessThan(23_100_000);
    expect(fed(() => 5, times(300_001)).at_us).toBeGreaterThanOrEqual(22_300_001 + 23_000_000);
  });

  it("restarts when device time steps back", () => {
    const times = [...every(12_500, 22_000_000), ...every(12_500, 40e6, 1_000_000)];
    const { result, at_us } = fed(() => 5, times);
    expect(result?.ok).toBe(true);
    expect(at_us).toBe(24_000_000);
    const repeated = [...every(12_500, 22_000_000), ...every(12_500, 40e6, 22_000_000)];
    expect(fed(() => 5, repeated).at_us).toBe(23_000_000);
  });

  it("gives up on readings that break off again and again", () => {
    const stuttering = [...every(12_500, 400e6)].filter((at_us) => at_us % 10_000_000 < 9_000_000);
    const { result, at_us } = fed(() => 5, stuttering);
    expect(code(result)).toBe("sensor-fault");
    expect(at_us).toBeGreaterThanOrEqual(115_000_000);
    expect(at_us).toBeLessThan(126_000_000);
  });

  it("gives up at five times its own length, and not a restart sooner", () => {
    const short = { ...LIMITS, dwell_us: 600_000, window_us: 400_000 };
    const stutter = (last_us: number) => fed(() => 5, [0, 1_000_000, 2_000_000, 3_000_000, 4_000_000, last_us], short);
    expect(stutter(4_999_999).result).toBe(null);
    expect(code(stutter(5_000_000).result)).toBe("sensor-fault");
  });

  it("refuses a saturated reading in the window and forgives one in the dwell", () => {
    const saturated = (from_us: number) => (at_us: number) => (at_us === from_us ? 8_388_607 : 5);
    expect(fed(saturated(10_000_000), every(12_500, 30e6)).result?.ok).toBe(true);
    const { result } = fed(saturated(21_000_000), every(12_500, 30e6));
    expect(code(result)).toBe("sensor-fault");
  });

  it("answers the same however fast device time is told", () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 2 ** 40 }), (offset_us) => {
        const noise = seededNoise(11);
        const shifted = fed(() => Math.round(noise(20)), every(100_000, 30e6 + offset_us, offset_us));
        const again = seededNoise(11);
        const plain = fed(() => Math.round(again(20)), every(100_000, 30e6));
        if (!shifted.result?.ok || !plain.result?.ok) throw new Error("was refused");
        expect(shifted.result.point.mean_counts).toBe(plain.result.point.mean_counts);
        expect(shifted.result.point.trend_counts).toBeCloseTo(plain.result.point.trend_counts, 3);
      }),
      { numRuns: 20 },
    );
  });
});

describe("not still", () => {
  // A straight climb of c counts a second fits a change of 3 c over a window of 3 s.
  it.each([
    [133.2, true],
    [133.5, false],
    [-133.2, true],
    [-133.5, false],
  ])("drifting by %d counts a second where 400 in 3 s would do: passes %s", (per_s, still) => {
    const { result } = fed((at_us) => (per_s * at_us) / 1e6, every(100_000, 30e6));
    expect(result?.ok).toBe(still);
    if (!still) expect(code(result)).toBe("not-still");
  });

  it("says what moved by how much and what would do, in newtons where a scale is known", () => {
    const known = { ...LIMITS, counts_per_N: -200 };
    const { result } = fed((at_us) => at_us / 5000, every(100_000, 30e6), known);
    expect(result?.ok === false && result.error.message).toBe(
      "The reading drifted by 600 counts (3 N) in 3 s; at most 400 counts (2 N) would do.",
    );
    expect(result?.ok === false && result.error.hint).toContain("Wait");
  });

  it("judges spread at the limit, just below and just above", () => {
    expect(unrest(0, 400, 400, WINDOW_US, null)).toBe(null);
    expect(unrest(400, 399, 400, WINDOW_US, null)).toBe(null);
    expect(unrest(0, 400.1, 400, WINDOW_US, null)?.message).toContain(
      "swung or was noisy, by a standard deviation of 400 counts",
    );
    expect(unrest(-400.1, 0, 400, WINDOW_US, null)?.message).toContain("drifted by 400 counts");
  });
});
