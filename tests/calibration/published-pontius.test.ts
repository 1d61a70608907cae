/**
 * A real load cell: NIST StRD Pontius (certified values of its quadratic; the data are in data/pontius.dat with their
 * source). A line through its first and last load has an R2 that anybody would call excellent, and is wrong in between by
 * more than a good cell; a straight cell with the same noise has as good an R2. Their check loads tell them apart.
 *
 * The first load of the file counts as the empty machine, so that loads are 0..2850 N in newtons of our own; deflections
 * become counts of a 24-bit amplifier.
 */
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { reportOf } from "../../calibration/check-report/report.ts";
import { NO_PROCEDURE, stepProcedure } from "../../calibration/procedure/procedure.ts";
import type { Procedure, ProcedureFacts, ProcedureInput } from "../../calibration/procedure/procedure-state.ts";
import type { StillPoint } from "../../calibration/procedure/still-window.ts";
import type { CalibrationRecord, Check } from "../../calibration/record.ts";
import { forceOf } from "../../calibration/scale.ts";
import { summarise } from "../../calibration/statistics.ts";
import { fitTwoPoint } from "../../calibration/uncertainty/two-point.ts";
import { seededNoise } from "./seeded-noise.ts";

const COUNTS = 2e6;
const CELL = { cell_capacity_N: 3000, force_limit_N: 3000, working_force_N: 2850 } as const;
/** Certified residual standard deviation of the quadratic. */
const NOISE = 0.205177424076185e-3;
const CERTIFIED = { B1: 0.732059160401003e-6, B2: -0.316081871345029e-14 } as const;

interface Taken {
  readonly force_N: number;
  readonly counts: number;
  readonly series: number;
}

const pontius: readonly Taken[] = readFileSync(new URL("data/pontius.dat", import.meta.url), "utf8")
  .split("\n")
  .slice(60, 100)
  .map((line) => line.trim().split(/\s+/).map(Number))
  .map(([y, x], index) => ({
    force_N: (x! - 150_000) / 1000,
    counts: y! * COUNTS,
    series: index < 20 ? 1 : 2,
  }));
const first = pontius[0]!;
const last = pontius[19]!;
const straight = (sd: number, seed: number): readonly Taken[] => {
  const noise = seededNoise(seed);
  const per_N = (last.counts - first.counts) / last.force_N;
  return pontius.map((taken) => ({ ...taken, counts: first.counts + per_N * taken.force_N + noise(sd) * COUNTS }));
};

function r2(rows: readonly Taken[]): number {
  const x_mean = summarise(rows.map(({ force_N }) => force_N)).mean;
  const y_mean = summarise(rows.map(({ counts }) => counts)).mean;
  const sum = (of: (row: Taken) => number): number => rows.reduce((total, row) => total + of(row), 0);
  const xy = sum((row) => (row.force_N - x_mean) * (row.counts - y_mean));
  return xy ** 2 / (sum((row) => (row.force_N - x_mean) ** 2) * sum((row) => (row.counts - y_mean) ** 2));
}

const point = (counts: number): StillPoint => ({
  mean_counts: counts,
  standard_error_counts: NOISE * COUNTS,
  noise_counts: NOISE * COUNTS,
  trend_counts: 0,
  readings: 240,
});

/** Calibrated by two points of the first series, and everything between them hung as a check load. */
function checked(rows: readonly Taken[]) {
  const [empty, full] = [rows[0]!, rows[19]!];
  const load = {
    force_N: full.force_N,
    mass_kg: null,
    relative_tolerance: 1e-4,
    at: "cell",
    lever_angle_deg: null,
  } as const;
  const made = fitTwoPoint(point(empty.counts), point(full.counts), load, CELL, 3e6);
  if (!made.ok) throw new Error(made.error.message);
  const { zero_counts, counts_per_N, budget, expanded_uncertainty_N } = made.fit;
  const checks = rows
    .filter(({ force_N }) => force_N > 0 && force_N < full.force_N)
    .map(({ force_N, counts, series }): Check => {
      const indicated_force_N = forceOf(counts, zero_counts, counts_per_N);
      return {
        force_N,
        mass_kg: null,
        mean_counts: counts,
        standard_error_counts: NOISE * COUNTS,
        noise_counts: 1,
        readings: 240,
        applied: { at: "cell", lever_angle_deg: null, relative_tolerance: 1e-4 },
        when: "as-left",
        loading: "increasing",
        series,
        indicated_force_N,
        relative_error: indicated_force_N / force_N - 1,
      };
    });
  const report = reportOf(checks, "as-left", { ...CELL, counts_per_N, budget: [...budget], expanded_uncertainty_N });
  if (report === null) throw new Error("no report");
  return { expanded_uncertainty_N, report };
}

/** The same by the procedure itself: nothing on, full load, five check loads, accept. */
function accepted(rows: readonly Taken[]): CalibrationRecord {
  const facts: ProcedureFacts = {
    ...CELL,
    station: "bench",
    latitude_deg: 52,
    altitude_m: 0,
    board: null,
    amplifier: null,
    gain: null,
    powered_up_at_us: null,
    cell: null,
    in_force: null,
    dwell_us: 100_000,
    window_us: 3_000_000,
  };
  let state: Procedure = NO_PROCEDURE;
  let record: CalibrationRecord | null = null;
  let at_us = 0;
  const give = (input: ProcedureInput): void => {
    const step = stepProcedure(state, input);
    state = step.state;
    for (const effect of step.effects) {
      if (effect.do === "answer" && !effect.outcome.ok) throw new Error(effect.outcome.error.message);
      if (effect.do === "accepted") record = effect.record;
    }
  };
  const capture = (input: ProcedureInput, counts: number): void => {
    give(input);
    for (let reading = 0; reading < 260; reading += 1) {
      at_us += 12_500;
      give({ kind: "reading", at_us, counts });
    }
  };
  const now = "2026-11-24T10:00:00.000Z";
  give({ kind: "begin", request: "begin", by: null, now, at_us, facts });
  capture({ kind: "zero", request: "zero" }, rows[0]!.counts);
  const load = { relative_tolerance: 1e-4, at: "cell", loading: "increasing" } as const;
  capture({ kind: "load", request: "load", force_N: rows[19]!.force_N, ...load }, rows[19]!.counts);
  for (const { force_N, counts } of [3, 6, 9, 12, 15].map((index) => rows[index]!)) {
    capture({ kind: "check", request: `check ${force_N}`, force_N, ...load }, counts);
  }
  const calibration_id = "aaaaaaaa-0000-4000-8000-000000000001";
  give({ kind: "accept", request: "accept", note: null, due: null, calibration_id, at: now, clock_synced: true });
  if (record === null) throw new Error("nothing was accepted");
  return record;
}

const off_N = ({ force_N, indicated_force_N }: { force_N: number; indicated_force_N: number }): number =>
  indicated_force_N - force_N;
const worst_N = (rows: readonly Taken[]): number =>
  Math.max(...checked(rows).report.levels.flatMap(({ runs }) => runs.map((run) => Math.abs(off_N(run)))));

describe("a line through the two ends of a real cell", () => {
  const same_noise = straight(NOISE, 3);

  it("is told from a good one by nothing that R2 says", () => {
    // NIST/SEMATECH handbook 4.6.1, straight-line misfit.
    expect(r2(pontius)).toBeCloseTo(0.999988519115219, 12);
    expect(r2(pontius)).toBeGreaterThan(0.99998);
    expect(r2(same_noise)).toBeGreaterThan(0.99998);
    // It even prefers the bent cell to a straight one that is as noisy as the straight line's residuals (0.0022) are.
    expect(r2(straight(0.0025, 4))).toBeLessThan(r2(pontius));
  });

  it("is off at its check loads as its certified curve says, all to one side, and most at the small ones", () => {
    const { levels } = checked(pontius).report;
    expect(levels).toHaveLength(18);
    const scale = CERTIFIED.B1 + CERTIFIED.B2 * 3_150_000;
    for (const level of levels) {
      expect(level.mean_error).toBeGreaterThan(0);
      // The chord of a quadratic: B2 (x - x1) / (slope of the chord), with both ends and the load known to their noise.
      const certified = (CERTIFIED.B2 * (level.force_N - 2850) * 1000) / scale;
      const known = (3 * NOISE) / (scale * level.force_N * 1000);
      expect(Math.abs(level.mean_error! - certified)).toBeLessThan(known);
    }
    expect(levels[0]!.mean_error).toBeGreaterThan(0.01);
  });

  it("bends by more than three times what the two points say of themselves, and the straight cell by less than once", () => {
    const U_N = checked(pontius).expanded_uncertainty_N;
    expect(worst_N(pontius)).toBeGreaterThan(3 * U_N);
    expect(worst_N(same_noise)).toBeLessThan(1.5 * U_N);
    expect(worst_N(pontius)).toBeGreaterThan(5 * worst_N(same_noise));
  });

  it("keeps the limits of class 0.5 only near its end, where the straight cell keeps them nearly all the way", () => {
    const best = (rows: readonly Taken[]) => checked(rows).report.classes[0]!;
    expect(best(pontius)).toMatchObject({ name: "0.5" });
    expect(best(pontius).from_N).toBeGreaterThan(0.55 * CELL.working_force_N);
    expect(best(same_noise)).toMatchObject({ name: "0.5" });
    expect(best(same_noise).from_N).toBeLessThan(0.2 * CELL.working_force_N);
  });

  it("does not hold what it claims of itself, and the straight cell does", () => {
    expect(checked(pontius).report.verdict).toMatchObject({ is: "drifted" });
    expect(checked(same_noise).report.verdict).toMatchObject({ is: "holds" });
  });

  it("through the procedure, carries its bend in the budget as the largest part, and the straight cell hardly any", () => {
    const lineOf = (record: CalibrationRecord): number =>
      record.budget.find(({ source }) => source === "non-linearity")?.standard_uncertainty_N ?? Number.NaN;
    const bent = accepted(pontius);
    // Near the middle the chord of the certified quadratic stands off by |B2| (x1 - x0)^2 / 4 over its slope.
    const scale = CERTIFIED.B1 + CERTIFIED.B2 * 3_150_000;
    const bend_N = (-CERTIFIED.B2 * 2_850_000 ** 2) / 4 / scale / 1000;
    expect(Math.abs(lineOf(bent) * Math.sqrt(3) - bend_N)).toBeLessThan((3 * NOISE) / scale / 1000);
    expect(lineOf(bent)).toBe(Math.max(...bent.budget.map((line) => line.standard_uncertainty_N)));
    const good = accepted(same_noise);
    expect(lineOf(bent)).toBeGreaterThan(5 * lineOf(good));
    // Every check load lies within what the record now says of itself.
    for (const check of bent.checks ?? []) {
      expect(Math.abs(off_N(check))).toBeLessThan(bent.expanded_uncertainty_N);
    }
  });
});
