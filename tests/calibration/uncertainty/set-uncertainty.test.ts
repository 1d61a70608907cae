import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { BudgetLine } from "../../../calibration/record.ts";
import { BEND, REPEATABILITY, ZERO_RETURN } from "../../../calibration/uncertainty/check-budget.ts";
import { type LossFacts, lossUncertainty, setUncertainty } from "../../../calibration/uncertainty/set-uncertainty.ts";
import { seededNoise } from "../seeded-noise.ts";

const quiet = {
  best_force_N: 1000,
  cell_capacity_N: 5000,
  noise_N: 0,
  smoothed_readings: 16,
  moving_resting_force_N: null,
} as const;
const record = { expanded_uncertainty_N: 25, working_force_N: 2500, budget: [] as BudgetLine[] };
/** A capacity so small that its zero allowance vanishes. */
const NO_ZERO = 1e-9;

describe("the uncertainty of a best", () => {
  it("is the scale's, in proportion, when nothing else is uncertain", () => {
    expect(setUncertainty({ ...quiet, record, cell_capacity_N: NO_ZERO })).toBeCloseTo(10, 9);
  });

  it("adds a zero within one division: 2 x 1 N / sqrt(3) for a cell of 5000 N", () => {
    const perfect = { expanded_uncertainty_N: 0, working_force_N: 2500, budget: [] };
    expect(setUncertainty({ ...quiet, record: perfect })).toBeCloseTo(2 / Math.sqrt(3), 9);
  });

  it("adds half the resting force of a moving effort, and none of a hold", () => {
    const perfect = { expanded_uncertainty_N: 0, working_force_N: 2500, budget: [] };
    const moving = { ...quiet, record: perfect, cell_capacity_N: NO_ZERO, moving_resting_force_N: 60 };
    expect(setUncertainty(moving)).toBeCloseTo((2 * 30) / Math.sqrt(3), 9);
    expect(setUncertainty({ ...moving, moving_resting_force_N: -60 })).toBe(setUncertainty(moving));
  });

  it("averages noise over the smoothing window, but over a third of its readings, and never below one", () => {
    const noisy = {
      ...quiet,
      record: { expanded_uncertainty_N: 0, working_force_N: 1, budget: [] },
      cell_capacity_N: NO_ZERO,
      noise_N: 3,
    };
    expect(setUncertainty({ ...noisy, smoothed_readings: 27 })).toBeCloseTo(2, 9);
    expect(setUncertainty({ ...noisy, smoothed_readings: 3 })).toBeCloseTo(6, 9);
    expect(setUncertainty({ ...noisy, smoothed_readings: 1 })).toBeCloseTo(6, 9);
    expect(setUncertainty({ ...noisy, noise_N: null })).toBeCloseTo(0, 6);
  });

  it("grows with every part of it", () => {
    const part = fc.double({ min: 0, max: 100, noNaN: true });
    fc.assert(
      fc.property(part, part, part, (noise_N, resting_N, scale_N) => {
        const whole = { ...quiet, noise_N, moving_resting_force_N: resting_N };
        const all = setUncertainty({ ...whole, record: { ...record, expanded_uncertainty_N: scale_N } });
        expect(all).toBeGreaterThanOrEqual(
          setUncertainty({ ...quiet, record: { ...record, expanded_uncertainty_N: 0 } }),
        );
        expect(all).toBeGreaterThanOrEqual((scale_N * 1000) / 2500 - 1e-9);
      }),
    );
  });
});

describe("what is the same at every force", () => {
  const friction: BudgetLine = { source: "friction", standard_uncertainty_N: 6, constant: true };
  const scale: BudgetLine = { source: "load tolerance", standard_uncertainty_N: 8 };
  const both = { expanded_uncertainty_N: 20, working_force_N: 2500, budget: [scale, friction] };

  it("is not made smaller by a small best: 6 N of friction and 8 N in 2500 N, by hand", () => {
    const at = (best_force_N: number): number =>
      setUncertainty({ ...quiet, best_force_N, record: both, cell_capacity_N: NO_ZERO });
    expect(at(2500)).toBeCloseTo(20, 9);
    expect(at(1250)).toBeCloseTo(2 * Math.hypot(4, 6), 9);
    expect(at(0)).toBeCloseTo(12, 9);
  });

  it("a record of before there were checks gives what it always gave", () => {
    const before = { ...both, budget: [scale, { source: "load point", standard_uncertainty_N: 6 }] };
    expect(setUncertainty({ ...quiet, best_force_N: 1250, record: before, cell_capacity_N: NO_ZERO })).toBeCloseTo(
      10,
      12,
    );
  });

  describe("in a loss", () => {
    const of = (rest: Partial<LossFacts>): number =>
      lossUncertainty({ ...quiet, cell_capacity_N: NO_ZERO, final_force_N: 600, is_hold: false, record, ...rest }) ??
      Number.NaN;
    const one = (source: string): BudgetLine => ({ source, standard_uncertainty_N: 3, constant: true });

    it("the bend does not cancel, less so the nearer the two forces are", () => {
      const bent = { record: { budget: [one(BEND)] } };
      expect(of(bent)).toBeCloseTo((2 * 3 * Math.hypot(1, 0.6)) / 1000, 12);
      expect(of({ ...bent, final_force_N: 950 })).toBeCloseTo((2 * 3 * Math.hypot(1, 0.95) * 0.2) / 1000, 12);
      expect(of({ ...bent, final_force_N: 1000 })).toBeCloseTo(0, 12);
    });

    it("a zero that does not come back counts in proportion to the loss", () => {
      expect(of({ record: { budget: [one(ZERO_RETURN)] } })).toBeCloseTo((2 * 0.4 * 3) / 1000, 12);
    });

    it("friction stands between a hold's best, from below, and its final force, from above; between peaks it does not", () => {
      const rubs = { record: { budget: [friction], friction_N: 6 } };
      expect(of({ ...rubs, is_hold: true })).toBeCloseTo((2 * 6 * Math.hypot(1, 0.6)) / Math.sqrt(3) / 1000, 12);
      expect(of({ ...rubs, is_hold: false })).toBeCloseTo(0, 12);
      expect(of({ record: { budget: [], friction_N: null }, is_hold: true })).toBeCloseTo(0, 12);
    });

    it("what scatters from one loading to the next stands between efforts; a hold is one loading", () => {
      const scatters = { record: { budget: [one(REPEATABILITY)] } };
      expect(of({ ...scatters, is_hold: false })).toBeCloseTo((2 * 3 * Math.hypot(1, 0.6)) / 1000, 12);
      expect(of({ ...scatters, is_hold: true })).toBeCloseTo(0, 12);
    });

    it("covers what a bearing really does to a hold: 2 x 6 N between the best and the final force", () => {
      // The lever gives way to the bearing one way, then the other: the worst of all.
      const [best_N, final_N, friction_N] = [1000, 600, 6];
      const seen = (best_N - friction_N - (final_N + friction_N)) / (best_N - friction_N);
      const rubs = { record: { budget: [friction], friction_N }, is_hold: true };
      expect(Math.abs(seen - 0.4)).toBeLessThan(1.5 * of(rubs));
      expect(Math.abs(seen - 0.4)).toBeGreaterThan(0.5 * of(rubs));
    });
  });
});

describe("the uncertainty of a loss", () => {
  it("does not know the scale", () => {
    const loss = { ...quiet, record, final_force_N: 600, is_hold: true };
    const offset = 1 / Math.sqrt(3);
    expect(lossUncertainty(loss)).toBeCloseTo((2 * 0.4 * offset) / 1000, 12);
  });

  it("of a set that lost nothing is only the noise of both ends", () => {
    const u = lossUncertainty({
      ...quiet,
      record,
      noise_N: 3,
      smoothed_readings: 27,
      final_force_N: 1000,
      is_hold: true,
    });
    expect(u).toBeCloseTo((2 * Math.SQRT2) / 1000, 12);
  });

  it("does not exist without a best", () => {
    expect(lossUncertainty({ ...quiet, record, best_force_N: 0, final_force_N: 0, is_hold: true })).toBe(null);
    expect(lossUncertainty({ ...quiet, record, best_force_N: Number.NaN, final_force_N: 0, is_hold: true })).toBe(null);
  });

  it("is twice the spread of losses that simulated offsets and noise really make", () => {
    // Propagation checked against a Monte Carlo of the same inputs, as JCGM 101 does.
    const noise = seededNoise(7);
    const best_N = 200;
    const final_N = 120;
    const half_width_N = 5000 / 5000;
    let squares = 0;
    const runs = 20_000;
    for (let run = 0; run < runs; run += 1) {
      const uniform = noise(1) + noise(1) + noise(1);
      const offset_N = (uniform / Math.sqrt(3)) * (half_width_N / Math.sqrt(3));
      const best = best_N + offset_N + noise(1);
      const loss = (best - (final_N + offset_N + noise(1))) / best;
      squares += (loss - 0.4) ** 2;
    }
    const claimed = lossUncertainty({
      ...quiet,
      record,
      best_force_N: best_N,
      final_force_N: final_N,
      is_hold: false,
      noise_N: 3,
      smoothed_readings: 27,
    });
    expect(claimed! / (2 * Math.sqrt(squares / runs))).toBeCloseTo(1, 1);
  });
});
