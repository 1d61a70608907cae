/**
 * The engine against values from outside the project.
 *
 * - Impulse of simple shapes and the error order of the trapezoid rule: textbook calculus; the sums of
 *   int_0^pi sin x dx with n = 2, 4, 8, 16 as every numerical-analysis text tabulates them, recomputed.
 * - Maximal exertion: three-compartment model, Xia & Frey-Law, J Biomech 41 (2008) 3046; F and R per joint region from
 *   Frey-Law, Looft & Heitsman, J Biomech 45 (2012) 1803, table 1, read second-hand in two places that agree. Its closed
 *   form for immediate recruiting is MA(t) = 1 - F/(F+R) (1 - e^{-(F+R)t}).
 * - Fatigue indices: best to last over the peak, not the first effort, as in the isokinetic literature; the vector
 *   500, 520, 510, 480, 450, 416 is worked out by hand.
 */
import { describe, expect, it } from "vitest";
import { append, beginTrail } from "../../../recorder/set-engine/trail.ts";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import {
  corners,
  halfSines,
  plateaus,
  readingsOf,
  resultOf,
  run,
  runTrace,
  setupOf,
  type Trace,
  together,
} from "./run.ts";

const impulseOf = (force: Trace["force"], lasts_s: number, rate_Hz = 80): number => {
  const readings = readingsOf({ force, lasts_s, rate_Hz });
  const setup = setupOf({ style: "continuous", fatigue_threshold: null, reading_rate_Hz: rate_Hz });
  const end = { kind: "end", at_us: lasts_s * 1e6, because: null } as const;
  return resultOf(run(setup, together(readings, end))).impulse_N_s;
};

/** What lies under a level: int of A sin(pi t / T) up to it, A T / pi (1 - cos(arcsin(level / A))), N.s. */
const underHalfSine = (level_N: number) => ((400 * 2) / Math.PI) * (1 - Math.cos(Math.asin(level_N / 400)));
const HALF_SINE_N_S = 509.29582 - underHalfSine(20) - underHalfSine(12);

describe("impulse, from the onset of 20 N to the release of 12 N", () => {
  it("half sine of 400 N over 2 s: 2AT/pi = 509.296 N.s", () => {
    expect(Math.abs(impulseOf(halfSines([[1, 2, 400]]), 5) / HALF_SINE_N_S - 1)).toBeLessThan(1e-4);
  });

  it("triangle 0-600-0 N in 3 s: 900 N.s", () => {
    // 400 N/s up and down: under 20 N lie 20^2 / 800 N.s, under 12 N 12^2 / 800.
    const expected_N_s = 900 - 400 / 800 - 144 / 800;
    expect(Math.abs(impulseOf(corners([1, 0], [2.5, 600], [4, 0]), 6) - expected_N_s)).toBeLessThan(0.05);
  });

  it("500 N for 4 s: 2000 N.s", () => {
    // Steps fall between two readings 12.5 ms apart: each edge carries half an interval of 500 N at most.
    const square = (at_s: number) => (at_s >= 1 && at_s < 5 ? 500 : 0);
    expect(Math.abs(impulseOf(square, 7) - 2000)).toBeLessThan(500 * 0.0125);
  });

  it("comes with mean force: impulse over time, 500 N of it", () => {
    const force = corners([0.99, 0], [1, 500], [30, 500]);
    const inputs = together(readingsOf({ force, lasts_s: 11, rate_Hz: 100 }), {
      kind: "end",
      at_us: 11e6,
      because: null,
    });
    const result = resultOf(run(setupOf({ reading_rate_Hz: 100 }), inputs));
    expect(Math.abs(result.impulse_N_s / result.duration_s - 500)).toBeLessThan(1);
  });
});

describe("the trapezoid rule", () => {
  /** int_0^pi sin x dx by the trail, over n intervals: time runs 1 s to a radian. */
  const sine = (n: number): number => {
    let trail = beginTrail(0, 0);
    for (let index = 1; index <= n; index++) {
      const at_us = (index * Math.PI * 1e6) / n;
      trail = append(trail, at_us, Math.sin((index * Math.PI) / n));
    }
    return trail.newest.impulse_N_s;
  };

  it.each([
    [2, 1.570796326795],
    [4, 1.896118897937],
    [8, 1.974231601946],
    [16, 1.993570343772],
  ])("int_0^pi sin with n = %i is %f", (n, expected) => {
    expect(sine(n)).toBeCloseTo(expected, 9);
  });

  it("half the step is a quarter of the error", () => {
    for (const n of [8, 16, 32, 64, 128]) {
      const ratio = (2 - sine(n)) / (2 - sine(2 * n));
      expect(ratio).toBeGreaterThan(3.98);
      expect(ratio).toBeLessThan(4.03);
    }
  });

  it("through the engine too, onset and release included: a half sine read twice as fast", () => {
    const errorAt = (rate_Hz: number) => HALF_SINE_N_S - impulseOf(halfSines([[1, 2, 400]]), 5, rate_Hz);
    for (const rate_Hz of [10, 20, 40, 80]) {
      const ratio = errorAt(rate_Hz) / errorAt(2 * rate_Hz);
      expect(ratio).toBeGreaterThan(3.9);
      expect(ratio).toBeLessThan(4.1);
    }
  });
});

describe("maximal exertion, three compartments", () => {
  const REGIONS = {
    ankle: [0.00589, 0.00058],
    knee: [0.015, 0.00149],
    trunk: [0.00755, 0.00075],
    shoulder: [0.0182, 0.00168],
    elbow: [0.00912, 0.00094],
    grip: [0.0098, 0.00064],
    general: [0.0097, 0.00091],
  } as const;
  /** s to lose 10, 20 ... 50 % at once, from the same table's F and R. */
  const TIMES_S: Readonly<Record<keyof typeof REGIONS, readonly number[]>> = {
    ankle: [17.98, 38.34, 61.79, 89.45, 123.15],
    knee: [7.06, 15.06, 24.27, 35.13, 48.38],
    trunk: [14.03, 29.91, 48.21, 69.8, 96.12],
    shoulder: [5.82, 12.4, 19.97, 28.89, 39.74],
    elbow: [11.62, 24.78, 39.95, 57.85, 79.71],
    grip: [10.79, 22.95, 36.88, 53.19, 72.86],
    general: [10.92, 23.27, 37.48, 54.23, 74.61],
  };
  const LOSSES = [0.1, 0.2, 0.3, 0.4, 0.5] as const;
  const PULLED_S = 1;
  const FRESH_N = 1000;

  const cases = (Object.keys(REGIONS) as (keyof typeof REGIONS)[]).flatMap((region) =>
    LOSSES.map((loss, index) => [region, loss, TIMES_S[region][index] as number] as const),
  );

  it.each(cases)(
    "%s, loss %f: the closed form loses it after %f s, the hold ends its known lags later",
    (region, loss, table_s) => {
      const [F, R] = REGIONS[region];
      const k = F + R;
      const a = F / k;
      const left = (t_s: number) => 1 - a * (1 - Math.exp(-k * t_s));
      // The table itself, to the rounding of its parameters' last digit.
      const at_once_s = -Math.log(1 - loss / a) / k;
      expect(Math.abs(at_once_s - table_s)).toBeLessThan(0.006);

      // By hand: the mean of the closed form over the second before t is 1 - a + (a/k) e^{-kt} (e^k - 1).
      const mean = (t_s: number) => 1 - a + (a / k) * Math.exp(-k * t_s) * (Math.exp(k) - 1);
      // Force falls from the first moment on, so the first whole second is the best one; the next is within 5 % of it.
      const best = mean(1);
      expect(mean(2) / best).toBeGreaterThan(0.95);
      const floor = best * (1 - loss);
      const under_s = -Math.log(((floor - 1 + a) * k) / (a * (Math.exp(k) - 1))) / k;
      const expected_s = PULLED_S + Math.max(under_s, 2) + 1;

      // The pull rises straight within one reading; the second before counts from the onset, 0.2 ms after its start.
      const force = (at_s: number) => (at_s < PULLED_S ? 0 : FRESH_N * left(at_s - PULLED_S));
      const result = resultOf(runTrace({ fatigue_threshold: loss }, { force, lasts_s: expected_s + 3 }));
      expect(result.stop_reason).toBe("hold-below-floor");
      expect(Math.abs(result.best_N as number) / (FRESH_N * best)).toBeCloseTo(1, 3);
      // Readings come 12.5 ms apart: the crossing is seen at the next one, and the grace ends on one.
      const late_s = result.decided_us / 1e6 - expected_s;
      expect(late_s).toBeGreaterThan(-0.02);
      expect(late_s).toBeLessThan(0.02);
    },
  );
});

describe("fatigue index of 500, 520, 510, 480, 450, 416 N", () => {
  const PEAKS_N = [500, 520, 510, 480, 450, 416];
  const efforts = (peaks: readonly number[]) =>
    plateaus(peaks.map((peak_N, index) => [1 + 3 * index, 2, peak_N] as const));
  const ran = (fatigue_threshold: number) =>
    runTrace(
      { style: "continuous", fatigue_threshold, options: { below_floor_to_stop: 1 } },
      { force: efforts(PEAKS_N), lasts_s: 40 },
    );

  it("best is the second effort, and best to last is 20.0 %", () => {
    const result = resultOf(ran(0.3));
    expect(result.best_N).toBeCloseTo(520, 6);
    expect(((result.best_N as number) - (result.final_N as number)) / (result.best_N as number)).toBeCloseTo(0.2, 6);
    expect(result.efforts.map((effort) => Math.round(effort.peak_N))).toEqual(PEAKS_N);
  });

  it("a threshold just above 20 % is not reached, just below it is, with the last effort", () => {
    expect(resultOf(ran(0.201))).toMatchObject({ stop_reason: "rest-limit", reached_threshold: false });
    const reached = resultOf(ran(0.199));
    expect(reached).toMatchObject({ stop_reason: "effort-below-floor", reached_threshold: true });
    expect(reached.efforts).toHaveLength(6);
  });

  it("declines from the best on by least squares: 26.8 N an effort, 5.15 % of best", () => {
    // Over 520, 510, 480, 450, 416 at 0..4: slope = (-2 x 520 - 510 + 450 + 2 x 416) / 10 = -26.8 N.
    const slope_N = (-2 * 520 - 510 + 450 + 2 * 416) / 10;
    const result = resultOf(ran(0.3));
    expect(result.decline_per_effort).toBeCloseTo(-slope_N / 520, 6);
    expect(result.decline_per_s as number).toBeGreaterThan(0.9 * (-slope_N / 3 / 520));
    expect(result.decline_per_s as number).toBeLessThan(1.1 * (-slope_N / 3 / 520));
  });

  it("declines are null under 3 efforts from the best on", () => {
    const rising = resultOf(runTrace({ style: "continuous" }, { force: efforts([500, 510, 520, 515]), lasts_s: 40 }));
    expect(rising).toMatchObject({ decline_per_effort: null, decline_per_s: null });
  });

  it.each([
    [0.95, null],
    [1.05, "known"],
  ])("the decline by time is null under 3 s: four peaks %f s apart", (apart_s, decline) => {
    const quick = plateaus([520, 510, 480, 450].map((peak_N, index) => [1 + apart_s * index, 0.7, peak_N] as const));
    const result = resultOf(runTrace({ style: "continuous" }, { force: quick, lasts_s: 20, rate_Hz: 100 }));
    expect(result.decline_per_s === null).toBe(decline === null);
    expect(result.decline_per_effort).not.toBeNull();
  });
});

describe("common practice, no source", () => {
  it("whoever could lift 100 once and can no longer move 60 has lost 40 %", () => {
    const lifted = (last_N: number) =>
      runTrace(
        { style: "continuous", fatigue_threshold: 0.4 },
        {
          force: plateaus([
            [1, 2, 100],
            [4, 2, 100],
            [7, 2, last_N],
          ]),
          lasts_s: 20,
        },
      );
    expect(lifted(60.1).result?.stop_reason).toBe("rest-limit");
    expect(lifted(59.9).result?.stop_reason).toBe("effort-below-floor");
  });

  it("thresholds between 20 and 75 % each end where they say", () => {
    for (const fatigue_threshold of [0.2, 0.3, 0.4, 0.5, 0.6, 0.75]) {
      const force = corners([0.99, 0], [1, 1000], [4, 1000], [104, 0]);
      const result = resultOf(runTrace({ fatigue_threshold }, { force, lasts_s: 110, rate_Hz: 80 }));
      // 10 N/s from 4 s on; the trailing mean is half a second behind, the grace one second.
      const expected_s = 4 + 100 * fatigue_threshold + 0.5 + 1;
      expect(Math.abs(result.decided_us / 1e6 - expected_s)).toBeLessThan(0.03);
      const view = viewOf({ is: "over", result });
      expect(view.floor_N).toBeCloseTo(1000 * (1 - fatigue_threshold), 6);
    }
  });
});
