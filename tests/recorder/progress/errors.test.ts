/** Which error a figure is judged by, and that the days in question have no say in it. */
import { describe, expect, it } from "vitest";
import { errorsOf, sayErrors } from "../../../recorder/progress/errors.ts";
import type { Day } from "../../../recorder/progress/series.ts";
import { DEFAULT_RULES, type Rules } from "../../../recorder/progress/trend.ts";
import { frozen } from "../../calibration/frozen.ts";
import { scattered, visit, visits } from "./series.ts";

const of = (days: readonly Day[], rules: Partial<Rules> = {}) =>
  errorsOf(frozen(days), frozen({ ...DEFAULT_RULES, ...rules }));
const best = (days: readonly Day[], rules: Partial<Rules> = {}) => of(days, rules).get("best_force_N")!;
/** Up and down by so much in turn: the typical error is about that over sqrt 2 x 2. */
const swinging = (count: number, by: number, changes: (index: number) => Partial<Day> = () => ({})) =>
  visits(
    Array.from({ length: count }, (_, index) => 1000 * (index % 2 === 0 ? 1 : 1 + by)),
    changes,
  );
/** The newest days that have no say: three newest, and one more for the visit before. */
const IN_QUESTION = 4;

describe("the error of best", () => {
  it("is published while there are too few days, and the cautious end of it", () => {
    expect(best(swinging(10 + IN_QUESTION - 1, 0.08))).toMatchObject({ from: "published", typical_error: 0.09 });
    expect(best([])).toMatchObject({ from: "published", degrees_of_freedom: null });
  });

  it("is their own from ten days on before the newest", () => {
    const own = best(swinging(10 + IN_QUESTION, 0.08));
    expect(own).toMatchObject({ from: "own", source: "Their own: 10 days, the newest left out." });
    expect(own.typical_error).toBeGreaterThan(0.04);
    expect(own.typical_error).toBeLessThan(0.06);
    expect(own.degrees_of_freedom).toBeCloseTo((2 * 8) / 3, 12);
  });

  it("is what it is known to be, before either", () => {
    const known = best(swinging(30, 0.08), { known_typical_error: 0.03 });
    expect(known).toMatchObject({ typical_error: 0.03, degrees_of_freedom: null, from: "published" });
  });

  it("is never less than anybody was seen to have", () => {
    expect(best(visits(Array.from({ length: 20 }, () => 1000))).typical_error).toBe(0.015);
  });

  it("says what a difference of two single days must exceed: 2.77 times a known one", () => {
    const [said] = sayErrors(of([], { known_typical_error: 0.03 }));
    expect(said!.minimal_detectable_change).toBeCloseTo(Math.exp(2.7719 * 0.03) - 1, 4);
    expect(said).toMatchObject({ figure: "best_force_N", typical_error: 0.03, degrees_of_freedom: null });
  });
});

describe("the days in question", () => {
  it.each([0, 1, 2, 3])("have no say in their own error: the newest but %d", (back) => {
    const days = visits(scattered(5, 20, 0.05));
    const raised = days.map((day, index) => (index === 19 - back ? { ...day, best_force_N: 5000 } : day));
    expect(best(raised)).toEqual(best(days));
  });

  it("end there: the fifth newest has one", () => {
    const days = visits(scattered(5, 20, 0.05));
    const raised = days.map((day, index) => (index === 15 ? { ...day, best_force_N: 5000 } : day));
    expect(best(raised).typical_error).toBeGreaterThan(best(days).typical_error);
  });
});

describe("steps that are no repeats", () => {
  it("lead over a long break: what changed in it is no error", () => {
    const bests = [1000, 1010, 1000, 1010, 1000, 1010, 500, 505, 500, 505, 500, 505, 500, 505, 500, 505];
    const away = visits(bests, undefined, (index) => 4 * index + (index < 6 ? 0 : 22 - 4));
    expect(best(away)).toMatchObject({ from: "own", typical_error: 0.015 });
    const back = visits(bests, undefined, (index) => 4 * index + (index < 6 ? 0 : 21 - 4));
    expect(best(back).typical_error).toBeGreaterThan(0.1);
  });

  it("too many of which leave too few degrees of freedom", () => {
    // Twelve days before those in question, with a break after every second one.
    const days = visits(scattered(2, 16, 0.05), undefined, (index) => 4 * index + 30 * Math.floor(index / 2));
    expect(best(days).from).toBe("published");
    const often = visits(scattered(2, 16, 0.05), undefined, (index) => 4 * index + 30 * Math.floor(index / 8));
    expect(best(often).from).toBe("own");
  });
});

describe("the other figures", () => {
  const worked = (changes: (index: number) => Partial<Day> = () => ({}), count = 20) =>
    swinging(count, 0.05, (index) => ({ impulse_N_s: index % 2 === 0 ? 10_000 : 11_000, ...changes(index) }));
  const impulse = (days: readonly Day[]) => of(days).get("impulse_N_s");

  it("have an error only where it is their own: published ones are of strength", () => {
    expect(impulse(worked(undefined, 13))).toBeUndefined();
    expect([...of(worked(undefined, 13)).keys()]).toEqual(["best_force_N"]);
    expect(impulse(worked())).toMatchObject({ from: "own" });
    expect([...of(worked()).keys()]).toEqual(["best_force_N", "impulse_N_s"]);
  });

  it("do not take what is known of best", () => {
    expect(of(worked(), { known_typical_error: 0.03 }).get("impulse_N_s")!.from).toBe("own");
    expect(of([], { known_typical_error: 0.03 }).get("impulse_N_s")).toBeUndefined();
  });

  it("repeat only within a dose: another threshold makes another impulse", () => {
    const days = worked((index) =>
      index < 8 ? { fatigue_threshold: 0.4 } : { fatigue_threshold: 0.3, impulse_N_s: 5000 },
    );
    const error = impulse(days)!.typical_error;
    expect(error).toBeLessThan(0.08);
    expect(best(days).degrees_of_freedom! - impulse(days)!.degrees_of_freedom!).toBeCloseTo(2 / 3, 9);
  });

  it("repeat only between sets that reached the threshold", () => {
    const days = worked((index) => (index === 7 ? { reached_threshold: false, impulse_N_s: 100 } : {}));
    expect(impulse(days)!.typical_error).toBeLessThan(0.08);
    expect(best(days).degrees_of_freedom! - impulse(days)!.degrees_of_freedom!).toBeCloseTo(4 / 3, 9);
  });

  it("are set against the last day that has the figure: a day without it hides no other dose and no break", () => {
    const dose = worked((index) => {
      if (index === 7) return { impulse_N_s: null };
      return index < 7 ? { fatigue_threshold: 0.3, impulse_N_s: index % 2 === 0 ? 5000 : 5500 } : {};
    });
    expect(impulse(dose)!.typical_error).toBeLessThan(0.08);
    const days = Array.from({ length: 20 }, (_, index) => {
      const offset = 4 * index + (index < 7 ? 0 : 16) + (index < 8 ? 0 : 16);
      const base = index < 7 ? 5000 : 10_000;
      return visit(offset, 1000, { impulse_N_s: index === 7 ? null : base * (index % 2 === 0 ? 1 : 1.1) });
    });
    expect(impulse(days)!.typical_error).toBeLessThan(0.08);
  });
});
