/** The newest days against the first: who is on which side, what is compared at which threshold, and what counts as a change. */
import { describe, expect, it } from "vitest";
import { compare, replaysOf, type Sides, sharedThreshold, sidesOf } from "../../../recorder/progress/compare.ts";
import type { Errors, FigureError } from "../../../recorder/progress/errors.ts";
import type { Day } from "../../../recorder/progress/series.ts";
import { DEFAULT_RULES, judge, replayKey, replaysWanted } from "../../../recorder/progress/trend.ts";
import { frozen } from "../../calibration/frozen.ts";
import { seriesOf, visits } from "./series.ts";

const known = (typical_error: number): FigureError => ({
  typical_error,
  degrees_of_freedom: null,
  from: "own",
  source: "made up",
});
const ERRORS: Errors = new Map([
  ["best_force_N", known(0.03)],
  ["impulse_N_s", known(0.05)],
  ["duration_s", known(0.05)],
  ["mean_force_N", known(0.05)],
]);
const JUDGING = { smallest_worthwhile_change: 0.034, unknown_uncertainty: 0.02 };
const sides = (days: readonly Day[]): Sides => sidesOf(frozen(days), DEFAULT_RULES)!;
const compared = (days: readonly Day[], replayed = new Map(), errors = ERRORS) =>
  compare(sides(days), errors, replayed, JUDGING);
const bestOf = (days: readonly Day[]) => compared(days).find(({ figure }) => figure === "best_force_N")!;
/** Two and two days: the limit of 95 % is 1.96 times the error. */
const LIMIT = 1.96 * 0.03;

describe("sides", () => {
  it.each([
    [4, 2, 2],
    [5, 2, 2],
    [6, 3, 3],
    [7, 3, 3],
    [9, 4, 3],
    [12, 6, 3],
    [40, 6, 3],
  ])("of %d days: the first %d and the newest %d, and no day on both", (count, first, newest) => {
    const days = visits(Array.from({ length: count }, () => 1000));
    expect(sides(days).first).toEqual(days.slice(0, first));
    expect(sides(days).newest).toEqual(days.slice(count - newest));
    expect(first + newest).toBeLessThanOrEqual(count);
  });

  it("there are none of three days: two against two at the least", () => {
    expect(sidesOf(visits([1, 2, 3]), DEFAULT_RULES)).toBeNull();
    expect(sidesOf([], DEFAULT_RULES)).toBeNull();
  });
});

describe("a change of best", () => {
  it("is between the means of logarithms, and as a fraction of the first", () => {
    const best = bestOf(visits([900, 1000, 1100, 1210]));
    expect(best.from_value).toBeCloseTo(Math.sqrt(900 * 1000), 9);
    expect(best.to_value).toBeCloseTo(Math.sqrt(1100 * 1210), 9);
    expect(best.change).toBeCloseTo(best.to_value / best.from_value - 1, 12);
    expect(best).toMatchObject({ from_days: 2, to_days: 2, at_threshold: null, calibration_changed: false });
    expect(best.minimal_detectable_change).toBeCloseTo(Math.exp(LIMIT) - 1, 12);
  });

  it.each([
    [LIMIT + 1e-9, true, true],
    [LIMIT - 1e-9, false, false],
    [-LIMIT + 1e-9, false, false],
    [-LIMIT - 1e-9, true, false],
  ])("by %d in logarithms: real %s, an improvement %s", (difference, is_real, is_improvement) => {
    const up = 1000 * Math.exp(difference);
    expect(bestOf(visits([1000, 1000, up, up]))).toMatchObject({ is_real, is_improvement });
  });

  it("is worthwhile beyond the smallest worthwhile change, whether real or not", () => {
    expect(bestOf(visits([1000, 1000, 1033, 1033]))).toMatchObject({ is_worthwhile: false, is_real: false });
    expect(bestOf(visits([1000, 1000, 1035, 1035]))).toMatchObject({ is_worthwhile: true, is_real: false });
    expect(bestOf(visits([1000, 1000, 965, 965]))).toMatchObject({ is_worthwhile: true, is_real: false });
  });

  it("takes sets that went to another loss, or to none: a start is a start", () => {
    const days = visits([1000, 1000, 1100, 1100], (index) => ({
      fatigue_threshold: index < 2 ? 0.4 : null,
      reached_threshold: false,
    }));
    expect(compared(days).map(({ figure }) => figure)).toEqual(["best_force_N"]);
  });

  it("leaves out a day without a best, and is none of a single day", () => {
    const days = visits([1000, 1000, 1000, 1100, 1100, 1100]).map((day, index) =>
      index === 1 ? { ...day, best_force_N: null } : day,
    );
    expect(bestOf(days)).toMatchObject({ from_days: 2, to_days: 3 });
    expect(compared(visits([1000, 0, 1100, 1100]))).toEqual([]);
  });

  it("is not compared where no error is known", () => {
    expect(compared(visits([1000, 1000, 1100, 1100]), new Map(), new Map())).toEqual([]);
  });
});

describe("another calibration", () => {
  const uncertain = (expanded_uncertainty_N: number | null, id: (index: number) => string, to = 1070) =>
    bestOf(visits([1000, 1000, to, to], (index) => ({ expanded_uncertainty_N, calibration_id: id(index) })));

  it("adds the uncertainty of both scales in quadrature, not less for means", () => {
    const best = uncertain(20, (index) => (index < 2 ? "first" : "second"));
    const scales = Math.hypot(20 / 1000, 20 / 1070);
    expect(best.minimal_detectable_change).toBeCloseTo(Math.exp(Math.hypot(LIMIT, scales)) - 1, 12);
    expect(best.calibration_changed).toBe(true);
    // 1.07 is beyond chance alone (0.0588), and not beyond both (0.0648 < 0.0677 = ln 1.07): wider scales hide it.
    expect(best.is_real).toBe(true);
    expect(uncertain(30, (index) => (index < 2 ? "first" : "second")).is_real).toBe(false);
  });

  it("is one within a side, too, and the most uncertain set of a side speaks for it", () => {
    expect(uncertain(20, (index) => (index === 3 ? "second" : "first")).calibration_changed).toBe(true);
    const days = visits([1000, 1000, 1070, 1070], (index) => ({
      calibration_id: `${Math.floor(index / 2)}`,
      expanded_uncertainty_N: index === 0 ? 50 : 1,
    }));
    expect(bestOf(days).minimal_detectable_change).toBeCloseTo(Math.exp(Math.hypot(LIMIT, 0.05, 1 / 1070)) - 1, 12);
  });

  it("adds nothing while there is one, which is the same on both sides", () => {
    const best = uncertain(30, () => "first");
    expect(best.minimal_detectable_change).toBeCloseTo(Math.exp(LIMIT) - 1, 12);
    expect(best).toMatchObject({ is_real: true, calibration_changed: false });
  });

  it("counts as 2 % where nobody knows how uncertain, which is the most a calibration is accepted with", () => {
    const best = uncertain(null, (index) => (index < 2 ? "first" : "second"));
    expect(best.minimal_detectable_change).toBeCloseTo(Math.exp(Math.hypot(LIMIT, 0.02, 0.02)) - 1, 12);
    expect(best.calibration_changed).toBe(true);
    expect(DEFAULT_RULES.unknown_uncertainty).toBe(0.02);
  });

  it("is marked at each day that began with one", () => {
    const days = visits([1, 2, 3, 4, 5], (index) => ({ calibration_id: ["a", "a", "b", "b", "a"][index]! }));
    const judged = judge(seriesOf(days), new Map());
    expect(judged.days.map(({ new_calibration }) => new_calibration)).toEqual([false, false, true, false, true]);
  });
});

describe("impulse, duration and mean force", () => {
  const figures = (index: number, share = 1): Partial<Day> => ({
    impulse_N_s: (index < 2 ? 10_000 : 12_000) * share,
    duration_s: (index < 2 ? 20 : 23) * share,
    mean_force_N: index < 2 ? 500 : 520,
  });

  it("are compared as kept where all were at one threshold, in the order of the figures", () => {
    const days = visits([1000, 1000, 1010, 1010], (index) => figures(index));
    const changes = compared(days);
    expect(changes.map(({ figure }) => figure)).toEqual(["best_force_N", "impulse_N_s", "duration_s", "mean_force_N"]);
    expect(changes[1]).toMatchObject({ at_threshold: 0.4, is_improvement: true });
    expect(changes[1]!.change).toBeCloseTo(0.2, 12);
    expect(changes[3]!.is_real).toBe(false);
    expect(replaysWanted(seriesOf(days))).toEqual([]);
  });

  const across = visits([1000, 1000, 1010, 1010], (index) => ({
    ...figures(index),
    fatigue_threshold: index < 2 ? 0.4 : 0.3,
  }));

  it("across thresholds want the deeper sets judged at the shallower one, and only those", () => {
    expect(sharedThreshold(sides(across))).toBe(0.3);
    expect(replaysOf(sides(across))).toEqual([
      { set_id: across[0]!.set_id, fatigue_threshold: 0.3 },
      { set_id: across[1]!.set_id, fatigue_threshold: 0.3 },
    ]);
    expect(replaysWanted(seriesOf(across))).toEqual(replaysOf(sides(across)));
  });

  it("across thresholds take a deeper set's figures from its replay, never as it was kept", () => {
    expect(compared(across).map(({ figure }) => figure)).toEqual(["best_force_N"]);
    const at = (impulse_N_s: number | null) => ({
      best_force_N: 1000,
      impulse_N_s,
      duration_s: null,
      mean_force_N: 510,
    });
    const replayed = new Map([
      [replayKey(across[0]!.set_id, 0.3), at(7000)],
      [replayKey(across[1]!.set_id, 0.3), at(8000)],
    ]);
    const changes = compared(across, replayed);
    expect(changes.map(({ figure }) => figure)).toEqual(["best_force_N", "impulse_N_s", "mean_force_N"]);
    expect(changes[1]).toMatchObject({ at_threshold: 0.3, from_days: 2 });
    expect(changes[1]!.from_value).toBeCloseTo(Math.sqrt(7000 * 8000), 6);
    expect(changes[1]!.to_value).toBeCloseTo(12_000, 6);
    // A replay at another loss is none.
    const other = new Map([...replayed].map(([, value], index) => [replayKey(across[index]!.set_id, 0.35), value]));
    expect(compared(across, other).map(({ figure }) => figure)).toEqual(["best_force_N"]);
  });

  it("of a set that did not reach the threshold are left out, since it would have gone on", () => {
    const days = visits([1000, 1000, 1000, 1010, 1010, 1010], (index) => ({
      ...figures(index < 3 ? 0 : 2, index === 1 ? 0.2 : 1),
      reached_threshold: index !== 1,
    }));
    expect(compared(days).map(({ from_days }) => from_days)).toEqual([3, 2, 2, 2]);
    expect(compared(days)[1]!.from_value).toBeCloseTo(10_000, 6);
  });

  it("of a deeper set count by its replay, though it did not reach its own threshold", () => {
    const days = across.map((day, index) => (index === 0 ? { ...day, reached_threshold: false } : day));
    const replay = { best_force_N: 1000, impulse_N_s: 7000, duration_s: 15, mean_force_N: 510 };
    const replayed = new Map(days.slice(0, 2).map(({ set_id }) => [replayKey(set_id, 0.3), replay]));
    expect(compared(days, replayed)[1]).toMatchObject({ figure: "impulse_N_s", from_days: 2 });
  });

  it("are not compared where a set was to no loss at all", () => {
    const days = visits([1000, 1000, 1010, 1010], (index) => ({
      ...figures(index),
      fatigue_threshold: index === 3 ? null : 0.4,
    }));
    expect(sharedThreshold(sides(days))).toBeNull();
    expect(replaysOf(sides(days))).toEqual([]);
    expect(compared(days).map(({ figure }) => figure)).toEqual(["best_force_N"]);
  });
});

describe("a lower start makes a longer set", () => {
  const longer = (newest_best_N: number) =>
    compared(
      visits([1000, 1000, newest_best_N, newest_best_N], (index) => ({
        impulse_N_s: index < 2 ? 10_000 : 14_000,
        duration_s: index < 2 ? 20 : 31,
      })),
    );

  it("so that more impulse is no improvement where best went down beyond chance", () => {
    const [best, impulse, duration] = longer(900);
    expect(best).toMatchObject({ is_real: true, is_improvement: false });
    expect(impulse).toMatchObject({ is_real: true, is_improvement: false });
    expect(impulse!.change).toBeGreaterThan(0);
    expect(duration).toMatchObject({ is_real: true, is_improvement: false });
  });

  it("and is one where best went down by no more than chance, or up", () => {
    expect(longer(960)[1]).toMatchObject({ is_real: true, is_improvement: true });
    expect(longer(1100)[1]).toMatchObject({ is_real: true, is_improvement: true });
  });
});
