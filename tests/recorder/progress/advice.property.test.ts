/** What holds for every history. Seeded, so that a failing one is the same every time. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Day, Series } from "../../../recorder/progress/series.ts";
import { DEFAULT_RULES, judge } from "../../../recorder/progress/trend.ts";
import { frozen } from "../../calibration/frozen.ts";
import { adviceOn, seriesOf, visit } from "./series.ts";

const RUNS = { seed: 20261127, numRuns: 1500 };
const THRESHOLDS = [0.2, 0.25, 0.3, 0.35, 0.4, null] as const;

interface Made {
  readonly days: readonly Day[];
  readonly changes: Partial<Series>;
  readonly known_typical_error: number | null;
}

/** Days of somebody who scatters and goes somewhere, at one or two doses, with now and then a break, a failed set or no impulse. */
const history = (minLength: number, maxLength: number): fc.Arbitrary<Made> => {
  const day = fc.record({
    off: fc.double({ min: -1, max: 1, noNaN: true }),
    gap: fc.oneof({ weight: 30, arbitrary: fc.integer({ min: 1, max: 7 }) }, fc.integer({ min: 20, max: 24 })),
    reached: fc.oneof({ weight: 8, arbitrary: fc.constant(true) }, fc.constant(false)),
    work: fc.option(fc.double({ min: 8, max: 12, noNaN: true }), { freq: 8 }),
    calibration: fc.oneof({ weight: 20, arbitrary: fc.constant("first") }, fc.constant("second")),
  });
  const whole = fc.record({
    list: fc.array(day, { minLength, maxLength }),
    scatter: fc.double({ min: 0.005, max: 0.12, noNaN: true }),
    rise: fc.double({ min: -0.02, max: 0.03, noNaN: true }),
    dose: fc.tuple(fc.constantFrom(...THRESHOLDS), fc.constantFrom(...THRESHOLDS), fc.integer({ min: -20, max: 10 })),
    plan: fc.option(
      fc.record({
        fatigue_threshold: fc.constantFrom(...THRESHOLDS),
        rest_s: fc.option(fc.integer({ min: 60, max: 300 })),
      }),
    ),
    rested_s: fc.option(fc.integer({ min: 20, max: 600 })),
    known_typical_error: fc.option(fc.double({ min: 0.01, max: 0.1, noNaN: true })),
  });
  return whole.map(({ list, scatter, rise, dose, plan, rested_s, known_typical_error }) => {
    let offset = 0;
    const days = list.map(({ off, gap, reached, work, calibration }, index) => {
      offset += gap;
      const best_force_N = 1000 * Math.exp(rise * index + scatter * off);
      return visit(offset, best_force_N, {
        fatigue_threshold: index < dose[2] ? dose[0] : dose[1],
        reached_threshold: reached,
        impulse_N_s: work === null ? null : work * best_force_N,
        calibration_id: calibration,
      });
    });
    return { days, changes: { plan, rested_s }, known_typical_error };
  });
};

const on = ({ days, changes, known_typical_error }: Made) => adviceOn(days, changes, { known_typical_error });
const present = ({ days, changes }: Made): number | null =>
  changes.plan?.fatigue_threshold ?? days.at(-1)?.fatigue_threshold ?? null;
/** `share` 0.3: thirty percent more of what was reached, `back` visits before the newest. */
const raised = (made: Made, back: number, share: number): Made => ({
  ...made,
  days: made.days.map((day, index) =>
    index !== made.days.length - 1 - back
      ? day
      : {
          ...day,
          best_force_N: day.best_force_N! * (1 + share),
          impulse_N_s: day.impulse_N_s === null ? null : day.impulse_N_s * (1 + share),
        },
  ),
});
const share = fc.double({ min: 0.001, max: 1, noNaN: true });

describe("more improvement never means a higher dose", () => {
  it("a better result of any of the newest days never raises the advised threshold, nor silences the advice", () => {
    fc.assert(
      fc.property(history(5, 24), share, fc.integer({ min: 0, max: 2 }), (made, more, back) => {
        const [before, after] = [on(made), on(raised(made, back, more))];
        if (before.fatigue_threshold === null) return after.fatigue_threshold === null;
        return after.fatigue_threshold !== null && after.fatigue_threshold <= before.fatigue_threshold;
      }),
      { ...RUNS, numRuns: 3000 },
    );
  });

  it("nothing ever advises more than the present dose, or more than a step less, or less than a fifth", () => {
    fc.assert(
      fc.property(history(0, 24), (made) => {
        const { advice, fatigue_threshold } = on(made);
        const now = present(made);
        const stays = fatigue_threshold === now || fatigue_threshold === null;
        if (advice === "keep" || stays) return stays && advice !== "lower-threshold";
        return now !== null && fatigue_threshold >= Math.max(0.2, now - 0.0501) && fatigue_threshold < now;
      }),
      RUNS,
    );
  });

  it("and all of that is of histories with every advice in them", () => {
    const found = new Set(fc.sample(history(0, 24), { seed: 20261127, numRuns: 3000 }).map((made) => on(made).advice));
    expect([...found].sort()).toEqual(["ease-off", "keep", "longer-rest", "lower-threshold", "none", "too-few-sets"]);
  });
});

it("fewer than five days never advise anything, however they went", () => {
  fc.assert(
    fc.property(history(0, 4), (made) => {
      const { advice, fatigue_threshold } = on(made);
      return fatigue_threshold === null && (advice === "too-few-sets" || advice === "none");
    }),
    RUNS,
  );
});

it("another unit of force changes nothing but figures", () => {
  const FACTOR = 0.2248;
  fc.assert(
    fc.property(history(0, 24), (made) => {
      const rules = { ...DEFAULT_RULES, known_typical_error: made.known_typical_error };
      const times = (value: number | null): number | null => (value === null ? null : value * FACTOR);
      const scaled = made.days.map((day) => ({
        ...day,
        best_force_N: times(day.best_force_N),
        impulse_N_s: times(day.impulse_N_s),
        expanded_uncertainty_N: times(day.expanded_uncertainty_N),
      }));
      const one = judge(frozen(seriesOf(made.days, made.changes)), new Map(), rules);
      const other = judge(frozen(seriesOf(scaled, made.changes)), new Map(), rules);
      expect(other.advice.advice).toBe(one.advice.advice);
      expect(other.advice.fatigue_threshold).toBe(one.advice.fatigue_threshold);
      expect(other.changes).toHaveLength(one.changes.length);
      for (const [index, change] of one.changes.entries()) {
        const same = other.changes[index]!;
        expect(same.change).toBeCloseTo(change.change, 9);
        expect(same.minimal_detectable_change).toBeCloseTo(change.minimal_detectable_change, 9);
        expect(same.is_real).toBe(change.is_real);
        expect(same.is_improvement).toBe(change.is_improvement);
        expect(same.from_value).toBeCloseTo(change.from_value * FACTOR, 6);
      }
    }),
    { ...RUNS, numRuns: 500 },
  );
});

it("the same history is judged the same, and is left as it was", () => {
  fc.assert(
    fc.property(history(0, 24), (made) => {
      const series = frozen(seriesOf(made.days, made.changes));
      const before = JSON.stringify(series);
      const one = judge(series, frozen(new Map()), DEFAULT_RULES);
      expect(judge(series, new Map(), DEFAULT_RULES)).toEqual(one);
      expect(JSON.stringify(series)).toBe(before);
      for (const reason of one.advice.reasons) expect(reason).toMatch(/^[A-Z].*\.$/);
      expect(one.advice.reasons.join(" ")).not.toMatch(/NaN|Infinity|undefined|null/);
    }),
    { ...RUNS, numRuns: 500 },
  );
});
