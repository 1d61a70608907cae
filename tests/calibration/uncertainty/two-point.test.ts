import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type CellFacts, type KnownLoad, knownLoad, loadRefusal } from "../../../calibration/procedure/known-load.ts";
import type { StillPoint } from "../../../calibration/procedure/still-window.ts";
import { forceOf } from "../../../calibration/scale.ts";
import { fitTwoPoint, stillLimit_counts, type TwoPointResult } from "../../../calibration/uncertainty/two-point.ts";
import { frozen } from "../frozen.ts";

const CELL: CellFacts = { cell_capacity_N: 5000, force_limit_N: 4000, working_force_N: 2500 };
const PLACE = { latitude_deg: 52, altitude_m: 0 };
/** A 2 mV/V cell of 5000 N at gain 128. */
const COUNTS_PER_N = 858.9934592;
const WINDOW_US = 3_000_000;

const load = (force_N: number, rest: Partial<KnownLoad> = {}): KnownLoad => ({
  force_N,
  mass_kg: null,
  relative_tolerance: 0.001,
  at: "cell",
  lever_angle_deg: null,
  ...rest,
});

const point = (mean_counts: number, rest: Partial<StillPoint> = {}): StillPoint => ({
  mean_counts,
  standard_error_counts: 5,
  noise_counts: 40,
  trend_counts: 0,
  readings: 240,
  ...rest,
});

function made(unloaded: StillPoint, loaded: StillPoint, hung: KnownLoad, cell = CELL): TwoPointResult {
  return fitTwoPoint(frozen(unloaded), frozen(loaded), frozen(hung), frozen(cell), WINDOW_US);
}

const message = (result: TwoPointResult): string => (result.ok ? "" : `${result.error.code}: ${result.error.message}`);

describe("two good points", () => {
  it("give back the scale they were made with, reversed wires or not", () => {
    const counts_per_N = fc.oneof(
      fc.double({ min: 100, max: 1600, noNaN: true }),
      fc.double({ min: -1600, max: -100, noNaN: true }),
    );
    fc.assert(
      fc.property(
        counts_per_N,
        fc.integer({ min: -2_000_000, max: 2_000_000 }),
        fc.double({ min: 1500, max: 4000, noNaN: true }),
        (scale, zero, force_N) => {
          const result = made(point(zero), point(zero + scale * force_N), load(force_N));
          if (!result.ok) throw new Error(result.error.message);
          expect(result.fit.counts_per_N / scale).toBeCloseTo(1, 9);
          expect(result.fit.zero_counts).toBe(zero);
          expect(forceOf(zero + scale * 777, result.fit.zero_counts, result.fit.counts_per_N)).toBeCloseTo(777, 6);
        },
      ),
    );
  });

  it("have the budget worked by hand, extrapolated from 1000 N to 2500 N", () => {
    const result = made(point(70_000), point(1_070_000), load(1000, { mass_kg: 102, lever_angle_deg: 0 }));
    if (!result.ok) throw new Error(result.error.message);
    const lines = Object.fromEntries(result.fit.budget.map((line) => [line.source, line.standard_uncertainty_N]));
    // 1000 counts a newton, standard error 5 counts: |1 - 2.5| and 2.5 times 0.005 N.
    expect(lines["unloaded point"]).toBeCloseTo(0.0075, 9);
    expect(lines["load point"]).toBeCloseTo(0.0125, 9);
    expect(lines["load tolerance"]).toBeCloseTo((0.001 * 2500) / Math.sqrt(3), 9);
    expect(lines["gravity"]).toBeCloseTo((2e-4 * 2500) / Math.sqrt(3), 9);
    expect(lines["lever angle"]).toBeCloseTo(((1 - Math.cos((2 * Math.PI) / 180)) * 2500) / Math.sqrt(3), 9);
    expect(lines["resolution"]).toBeCloseTo((Math.hypot(1.5, 2.5) * 0.001) / Math.sqrt(12), 9);
    const sum = Math.sqrt(Object.values(lines).reduce((total, u) => total + u * u, 0));
    expect(result.fit.expanded_uncertainty_N).toBeCloseTo(2 * sum, 9);
  });

  it("have no gravity line for a force, and no lever line without a lever", () => {
    const result = made(point(0), point(1_000_000), load(1000));
    if (!result.ok) throw new Error(result.error.message);
    expect(result.fit.budget.map((line) => line.source)).toEqual([
      "unloaded point",
      "load point",
      "load tolerance",
      "resolution",
    ]);
  });
});

describe("refused", () => {
  const at = (force_N: number): StillPoint => point(force_N * COUNTS_PER_N);

  it("loads at, just below and just above each limit", () => {
    expect(loadRefusal(load(100), CELL)).toBe(null);
    expect(loadRefusal(load(99.9), CELL)?.error.message).toContain("under 2 % of the cell's 5000 N");
    expect(loadRefusal(load(4000), CELL)).toBe(null);
    expect(loadRefusal(load(4000.1), CELL)?.error.message).toContain("load path limited to 4000 N");
    const strong = { ...CELL, force_limit_N: 9000 };
    expect(loadRefusal(load(5000), strong)).toBe(null);
    expect(loadRefusal(load(5000.1), strong)?.error.message).toContain("on a cell of 5000 N");
    for (const force_N of [0, -1, Number.NaN, Number.POSITIVE_INFINITY]) {
      expect(loadRefusal(load(force_N), CELL)?.error.message).toContain("puts no force on the sensor");
    }
    expect(loadRefusal(load(99, { mass_kg: 10.1 }), CELL)?.error.message).toContain("A load of 10.1 kg");
  });

  it("a fit with a load that is out of range", () => {
    expect(message(made(at(0), at(50), load(50)))).toContain("out-of-range: The load puts 50 N");
  });

  it("the same point twice: closer than six standard deviations of their readings", () => {
    const same = 6 * Math.hypot(40, 40);
    expect(message(made(point(0), point(same), load(1000)))).toContain("read the same");
    expect(message(made(point(0), point(same + 0.1), load(1000)))).not.toContain("read the same");
    const silent = point(7, { noise_counts: 0, standard_error_counts: 0 });
    expect(message(made(silent, silent, load(1000)))).toContain("read the same: 0 counts apart");
  });

  it("a point that moved, judged in newtons now that there are some: 5 N of 5000 N would do", () => {
    const limit = stillLimit_counts(5000, COUNTS_PER_N);
    expect(limit).toBeCloseTo(5 * COUNTS_PER_N, 9);
    expect(stillLimit_counts(10_000, -COUNTS_PER_N)).toBeCloseTo(10 * COUNTS_PER_N, 9);
    const moving = (counts: number): StillPoint => point(1000 * COUNTS_PER_N, { trend_counts: counts });
    expect(made(at(0), moving(limit * 0.999), load(1000)).ok).toBe(true);
    expect(message(made(at(0), moving(limit * 1.001), load(1000)))).toMatch(/^not-still: .*\(5 N\) would do/);
    expect(message(made(moving(limit * 1.001), at(4000), load(4000)))).toMatch(/^not-still: /);
    const noisy = point(1000 * COUNTS_PER_N, { noise_counts: limit * 1.001 });
    expect(message(made(at(0), noisy, load(1000)))).toMatch(/^not-still: .*swung or was noisy/);
  });

  it("an expanded uncertainty above 2 % at the working force, at and just above, with what would help", () => {
    // 2 x tolerance / sqrt(3) = 2 %: everything else here is smaller than 1e-5.
    const tolerance = 0.02 * (Math.sqrt(3) / 2);
    const exact = { standard_error_counts: 0, noise_counts: 1 };
    const loaded = point(2_500_000, exact);
    const below = made(point(0, exact), loaded, load(2500, { relative_tolerance: tolerance * 0.9999 }));
    expect(below.ok).toBe(true);
    const above = made(point(0, exact), loaded, load(2500, { relative_tolerance: tolerance * 1.0001 }));
    expect(message(above)).toContain("uncertain by 2 % at 2500 N, mostly from the load tolerance");
    expect(above.ok === false && above.error.hint).toContain("Weigh the load");
  });

  it("a small load far from the working force, when its point is noisy", () => {
    const noisy = { standard_error_counts: 1500, noise_counts: 2000 };
    const result = made(point(0, noisy), point(100 * COUNTS_PER_N, noisy), load(100));
    expect(message(result)).toMatch(/mostly from the load point; 2 % would do/);
    expect(result.ok === false && result.error.hint).toContain("heavier load");
  });

  it("a steep lever, whose angle nobody reads that well", () => {
    const result = made(at(0), at(1000), load(1000, { lever_angle_deg: 45, at: "handle" }));
    expect(message(result)).toContain("mostly from the lever angle");
    expect(result.ok === false && result.error.hint).toContain("Level the lever");
  });
});

describe("a stated load", () => {
  const known = (asked: Parameters<typeof knownLoad>[0]) => knownLoad(frozen(asked), PLACE, CELL);

  it("of mass becomes local force, across the lever", () => {
    const result = known({ mass_kg: 20, lever_angle_deg: 10, relative_tolerance: 0.002 });
    if (!result.ok) throw new Error(result.error.message);
    expect(result.load.force_N).toBeCloseTo(196.22 * 0.984807753, 3);
    expect(result.load).toMatchObject({ mass_kg: 20, at: "handle", lever_angle_deg: 10, relative_tolerance: 0.002 });
  });

  it("of force stays as it is, turned by a lever all the same, with 1 % tolerance unless stated", () => {
    const level = known({ force_N: 500 });
    expect(level.ok && level.load).toEqual({
      force_N: 500,
      mass_kg: null,
      relative_tolerance: 0.01,
      at: "handle",
      lever_angle_deg: null,
    });
    const turned = known({ force_N: 500, lever_angle_deg: 60 });
    expect(turned.ok && turned.load.force_N).toBeCloseTo(250, 9);
  });

  it("twice, not at all, or at the cell through a lever, is a bad request", () => {
    for (const asked of [{}, { mass_kg: 20, force_N: 200 }, { mass_kg: 20, at: "cell", lever_angle_deg: 5 } as const]) {
      const result = known(asked);
      expect(result.ok === false && result.error.code).toBe("bad-request");
    }
    expect(known({ mass_kg: 20, at: "cell" }).ok).toBe(true);
    const light = known({ mass_kg: 1 });
    expect(light.ok === false && light.error.code).toBe("out-of-range");
  });
});
