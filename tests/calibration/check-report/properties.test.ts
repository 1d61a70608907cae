import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CLASSES } from "../../../calibration/check-report/iso-7500-1.ts";
import { reportOf } from "../../../calibration/check-report/report.ts";
import type { Check } from "../../../calibration/record.ts";
import { CLAIM, COUNTS_PER_N, check } from "./made-checks.ts";

const LEVELS_N = [400, 1000, 2000];
const error = fc.double({ min: -0.04, max: 0.04, noNaN: true });
const errors = fc.array(fc.array(error, { minLength: 3, maxLength: 3 }), { minLength: 1, maxLength: 3 });
const visit = fc.record({
  up: errors,
  down: fc.option(fc.array(error, { minLength: 3, maxLength: 3 })),
  zero_N: error,
});

function checksOf({ up, down, zero_N }: { up: number[][]; down: number[] | null; zero_N: number }): Check[] {
  const at = (index: number): number => LEVELS_N[index]!;
  return [
    check(0, 0),
    ...up.flatMap((series, index) => series.map((e, i) => check(at(i), at(i) * (1 + e), { series: index + 1 }))),
    ...(down ?? []).map((e, i) => check(at(i), at(i) * (1 + e), { loading: "decreasing" })),
    check(0, zero_N * 100, { loading: "decreasing" }),
  ];
}

const report = (checks: readonly Check[], claim = CLAIM) => reportOf(checks, "as-found", claim)!;
/** 0: the best class. */
const rank = (name: string | undefined): number =>
  name === undefined ? CLASSES.length : CLASSES.findIndex((one) => one.name === name);
/** The rank of the best class that holds at a force. */
const rankAt = (checks: readonly Check[], force_N: number): number =>
  rank(report(checks).classes.find(({ from_N }) => from_N <= force_N * 1.001)?.name);

describe("reports on checks", () => {
  it("do not depend on the order of the checks", () => {
    const shuffled = visit.chain((made) => {
      const checks = checksOf(made);
      const all = { minLength: checks.length, maxLength: checks.length };
      return fc.tuple(fc.constant(checks), fc.shuffledSubarray(checks, all));
    });
    fc.assert(
      fc.property(shuffled, ([checks, other]) => {
        expect(report(other)).toEqual(report(checks));
      }),
    );
  });

  it("keep their classes and verdict when every force is scaled", () => {
    const scale = fc.double({ min: 0.01, max: 100, noNaN: true });
    fc.assert(
      fc.property(visit, scale, (made, factor) => {
        const checks = checksOf(made);
        const scaled = checks.map((one) => ({
          ...one,
          force_N: one.force_N * factor,
          indicated_force_N: one.indicated_force_N * factor,
        }));
        const claim = {
          ...CLAIM,
          expanded_uncertainty_N: CLAIM.expanded_uncertainty_N * factor,
          working_force_N: CLAIM.working_force_N * factor,
          cell_capacity_N: CLAIM.cell_capacity_N * factor,
          counts_per_N: COUNTS_PER_N / factor,
          budget: [],
        };
        const [before, after] = [report(checks), report(scaled, claim)];
        expect(after.classes.map(({ name }) => name)).toEqual(before.classes.map(({ name }) => name));
        expect(after.verdict?.is).toBe(before.verdict?.is);
        // Forces are named in newtons, so of the words only those of the share of the range stay.
        const shares = (text: string): string[] => text.match(/[\d.]+ %/g) ?? [];
        expect(shares(after.class_text)).toEqual(shares(before.class_text));
      }),
    );
  });

  it("never give a better class for errors that all grew", () => {
    const growth = fc.double({ min: 1, max: 5, noNaN: true });
    fc.assert(
      fc.property(visit, growth, fc.constantFrom(...LEVELS_N), (made, factor, force_N) => {
        const grown = {
          up: made.up.map((series) => series.map((e) => e * factor)),
          down: made.down?.map((e) => e * factor) ?? null,
          zero_N: made.zero_N * factor,
        };
        expect(rankAt(checksOf(grown), force_N)).toBeGreaterThanOrEqual(rankAt(checksOf(made), force_N));
      }),
    );
  });

  it("never give a better class for a reading that left both the truth and the others further behind", () => {
    const more = fc.double({ min: 0, max: 0.05, noNaN: true });
    const ups = visit.map((made) => ({ ...made, down: null }));
    fc.assert(
      fc.property(ups, fc.nat(2), more, fc.constantFrom(...LEVELS_N), (made, level, away, force_N) => {
        const here = made.up.map((series) => series[level]!);
        const [least, most] = [Math.min(...here), Math.max(...here)];
        const outermost = Math.abs(least) > Math.abs(most) ? least : most;
        const worse = made.up.map((series) =>
          series.map((e, index) => (index === level && e === outermost ? e + Math.sign(e) * away : e)),
        );
        const moved = checksOf({ ...made, up: worse });
        expect(rankAt(moved, force_N)).toBeGreaterThanOrEqual(rankAt(checksOf(made), force_N));
      }),
    );
  });

  it("know a verdict from the worst reading: none turns better when the record claims less", () => {
    const ORDER = ["holds", "cannot-tell", "drifted", "calibrate"];
    const claims = fc.tuple(fc.double({ min: 0, max: 60, noNaN: true }), fc.double({ min: 0, max: 60, noNaN: true }));
    fc.assert(
      fc.property(visit, claims, (made, [one_N, other_N]) => {
        const of = (expanded_uncertainty_N: number): number => {
          const is = report(checksOf(made), { ...CLAIM, expanded_uncertainty_N, budget: [] }).verdict!.is;
          return ORDER.indexOf(is);
        };
        expect(of(Math.min(one_N, other_N))).toBeGreaterThanOrEqual(of(Math.max(one_N, other_N)));
      }),
    );
  });
});
