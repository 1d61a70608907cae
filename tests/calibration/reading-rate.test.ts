import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { RATE_UNKNOWN, type ReadingRate, stepReadingRate } from "../../calibration/reading-rate.ts";
import { frozen } from "./frozen.ts";

function fed(times_us: readonly number[], from: ReadingRate = RATE_UNKNOWN): ReadingRate {
  return times_us.reduce((state, at_us) => stepReadingRate(frozen(state), at_us), from);
}

const every = (period_us: number, count: number, from_us = 0): number[] =>
  Array.from({ length: count }, (_, i) => from_us + i * period_us);

describe("the reading rate", () => {
  it.each([8, 10, 50, 80, 94])(
    "of %d readings a second is found within 2 s, jitter of a fifth of a period and all",
    (rate_Hz) => {
      fc.assert(
        fc.property(
          fc.array(fc.double({ min: -0.2, max: 0.2, noNaN: true }), { minLength: 400, maxLength: 400 }),
          (jitter) => {
            const period_us = 1e6 / rate_Hz;
            const times = jitter.slice(0, 3 * rate_Hz + 2).map((part, i) => Math.round((i + 1 + part) * period_us));
            const { rate_Hz: found } = fed(times);
            expect(Math.abs(found! / rate_Hz - 1)).toBeLessThan(0.03);
          },
        ),
      );
    },
  );

  it("is not known until two seconds have passed, and is then", () => {
    expect(fed(every(12_500, 160)).rate_Hz).toBe(null);
    expect(fed(every(12_500, 161)).rate_Hz).toBe(80);
  });

  it("falls with lost readings", () => {
    const half = every(12_500, 400).filter((_, i) => i % 2 === 0);
    expect(fed(half).rate_Hz).toBe(40);
  });

  it("is unknown again after a silence of more than a second, or when device time steps back", () => {
    const known = fed(every(12_500, 200));
    const last_us = 199 * 12_500;
    expect(stepReadingRate(known, last_us + 1_000_000).rate_Hz).toBe(80);
    expect(stepReadingRate(known, last_us + 1_000_001).rate_Hz).toBe(null);
    expect(stepReadingRate(known, last_us - 1).rate_Hz).toBe(null);
    expect(stepReadingRate(known, last_us).rate_Hz).toBe(80);
  });
});
