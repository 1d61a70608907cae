/** Friction from a load reached both ways, checks as found and as left, and what both add to the budget. */
import { describe, expect, it } from "vitest";
import type { ProcedureInput } from "../../../calibration/procedure/procedure-state.ts";
import {
  type CalibrationRecord,
  type Check,
  calibrationRecordSchema,
  checkRecordSchema,
} from "../../../calibration/record.ts";
import { checkLines } from "../../../calibration/uncertainty/check-budget.ts";
import { ACCEPT, BEGIN, Bench, COUNTS_PER_N, check, FACTS, IN_FORCE, LOAD_N, load, ZERO } from "./procedure-bench.ts";

const EMPTY = { kind: "check", force_N: 0 } as const;
/** Whatever is read meanwhile. */
const EMPTY_CHECK = { ...EMPTY, request: "meanwhile", loading: "increasing" } as ProcedureInput;
const fromAbove = { ...load(100, "down"), loading: "decreasing" } as ProcedureInput;
const zeroed = (): Bench => new Bench().give(BEGIN).take(ZERO, 0);
const inUse = (): Bench => new Bench().give({ ...BEGIN, facts: { ...FACTS, in_force: IN_FORCE } });
const resultOf = (bench: Bench, request: string): Record<string, unknown> => {
  const answer = bench.answer(request);
  if (answer?.ok !== true) throw new Error(bench.error(request));
  return answer.result as Record<string, unknown>;
};
function recordOf(bench: Bench): CalibrationRecord {
  const [made] = bench.effects.flatMap((effect) => (effect.do === "accepted" ? [effect.record] : []));
  if (made === undefined) throw new Error(bench.error("r-accept"));
  return calibrationRecordSchema.parse(made);
}

describe("a load reached from below and from above", () => {
  const both = (first: "up" | "down"): Bench => {
    const up = (bench: Bench): Bench => bench.take(load(100, "up"), LOAD_N - 4);
    const down = (bench: Bench): Bench => bench.take(fromAbove, LOAD_N + 4);
    return first === "up" ? down(up(zeroed())) : up(down(zeroed()));
  };

  it.each(["up", "down"] as const)(
    "is one point, their mean, and half the difference is friction (%s first)",
    (first) => {
      const bench = both(first)
        .take(check(50), LOAD_N / 2)
        .give(ACCEPT);
      const record = recordOf(bench);
      expect(record.friction_N).toBeCloseTo(4, 1);
      expect(record.counts_per_N / COUNTS_PER_N).toBeCloseTo(1, 4);
      expect(record.points.map(({ loading }) => loading).sort()).toEqual(["decreasing", "increasing", undefined]);
      const line = record.budget.find(({ source }) => source === "friction");
      expect(line).toEqual({
        source: "friction",
        standard_uncertainty_N: expect.closeTo((record.friction_N ?? 0) * Math.sqrt(2 / 3), 9),
        constant: true,
      });
    },
  );

  it("is refused from above where nothing rose above it since: that would pass for no friction", () => {
    const bench = zeroed().take(load(100, "up"), LOAD_N).take(fromAbove, LOAD_N);
    expect(bench.error("down")).toMatch(/^out-of-range: The force never rose above the load of 981 N since/);
    // What was read from below is still there; with more on in between the same reading is one from above.
    bench.take(EMPTY_CHECK, LOAD_N + 20).take({ ...fromAbove, request: "again" } as ProcedureInput, LOAD_N);
    expect(resultOf(bench, "again")["friction_N"]).toBeCloseTo(0, 1);
  });

  it("and so it is with wires that are the other way round", () => {
    const turned = zeroed().take(load(100, "up"), -LOAD_N).take(fromAbove, -LOAD_N);
    expect(turned.error("down")).toMatch(/^out-of-range: The force never rose above/);
    turned.take(EMPTY_CHECK, -LOAD_N - 20).take({ ...fromAbove, request: "again" } as ProcedureInput, -LOAD_N);
    expect(resultOf(turned, "again")).toMatchObject({ friction_N: expect.closeTo(0, 1) });
  });

  it("says nothing of friction where it was reached one way only", () => {
    const bench = zeroed().take(load(100), LOAD_N);
    expect(resultOf(bench, "r-load")).toMatchObject({ friction_N: null });
    const again = bench.take(load(100, "again"), LOAD_N + 1);
    expect(resultOf(again, "again")).toMatchObject({ friction_N: null });
  });

  it("with a new load from below begins anew", () => {
    const bench = both("up").take(load(150, "heavier"), 1.5 * LOAD_N);
    expect(resultOf(bench, "heavier")).toMatchObject({ friction_N: null });
    bench.take(check(50), LOAD_N / 2).give(ACCEPT);
    expect(recordOf(bench).points.map(({ mass_kg }) => mass_kg)).toEqual([null, 150]);
  });

  it("taken again drops the checks of the scale before", () => {
    const bench = zeroed()
      .take(load(100), LOAD_N)
      .take(check(50), LOAD_N / 2)
      .take(load(100, "again"), LOAD_N);
    expect(bench.give(ACCEPT).error("r-accept")).toContain("No check load was hung");
  });
});

describe("checks", () => {
  it("as found are read by the scale and zero in force, and stay when points are taken", () => {
    const bench = inUse().take(check(50), LOAD_N / 2);
    expect(resultOf(bench, "r-check")).toMatchObject({ when: "as-found", loading: "increasing", series: 1 });
    // The scale in force makes 1 % too much of everything.
    expect(resultOf(bench, "r-check")["relative_error"]).toBeCloseTo(0.01, 3);
    bench
      .take(ZERO, 0)
      .take(load(100), LOAD_N)
      .take(check(50, "left"), LOAD_N / 2)
      .give(ACCEPT);
    expect(resultOf(bench, "left")["relative_error"]).toBeCloseTo(0, 3);
    expect(recordOf(bench).checks?.map(({ when }) => when)).toEqual(["as-found", "as-left"]);
  });

  it("as found and nothing more are kept as a check of what is in force", () => {
    const bench = inUse()
      .take(check(5), LOAD_N / 20)
      .give(ACCEPT);
    const [made] = bench.effects.flatMap((effect) => (effect.do === "checked" ? [effect.check] : []));
    expect(checkRecordSchema.parse(made)).toMatchObject({
      check_id: ACCEPT.calibration_id,
      calibration_id: IN_FORCE.calibration_id,
      zero_shift_N: 1.5,
      performed_by: "technician-1",
      due: ACCEPT.due,
    });
    expect(bench.answer("r-accept")).toEqual({ ok: true, result: made });
    // Under 2 % of capacity no scale can be made from it; to look at, it will do.
    expect(made?.checks[0]?.force_N).toBeCloseTo(LOAD_N / 20, 2);
    expect(bench.give({ ...ACCEPT, request: "twice" }).error("twice")).toContain("being kept");
    expect(bench.give({ kind: "stored", ok: true }).state).toEqual({ is: "closed" });
  });

  it("that show that the record does not hold are kept, and put nothing off to a later day", () => {
    // The scale in force makes 1 % too much of everything; 2 % beside the load's own 1 % would do.
    const bench = inUse().take(check(50), (LOAD_N / 2) * 1.03);
    expect(bench.give(ACCEPT).error("r-accept")).toMatch(
      /^out-of-range: The check load of \S+ N reads 4\S* % too much, so/,
    );
    expect(bench.effects.some((effect) => effect.do === "checked")).toBe(false);
    bench.give({ ...ACCEPT, request: "no day", due: null });
    expect(bench.effects.at(-1)).toMatchObject({ do: "answer", request: "no day", outcome: { ok: true } });
    expect(bench.effects.flatMap((effect) => (effect.do === "checked" ? [effect.check.due] : []))).toEqual([null]);
    // Too little as well as too much.
    for (const [factor, is_kept] of [
      [1.01, true],
      [0.97, true],
      [0.94, false],
    ] as const) {
      const answer = inUse()
        .take(check(50), (LOAD_N / 2) * factor)
        .give(ACCEPT)
        .answer("r-accept");
      expect(answer?.ok).toBe(is_kept);
    }
  });

  it("taken once more take the place of the first; of another series or the other way they do not", () => {
    const bench = inUse()
      .take(check(50, "a"), LOAD_N / 2)
      .take(check(50, "b"), LOAD_N / 2);
    bench.take({ ...check(50, "c"), series: 2 } as ProcedureInput, LOAD_N / 2);
    bench.take({ ...check(50, "d"), loading: "decreasing" } as ProcedureInput, LOAD_N / 2);
    expect(bench.state.is === "open" && bench.state.checks.map(({ series, loading }) => [series, loading])).toEqual([
      [1, "increasing"],
      [2, "increasing"],
      [1, "decreasing"],
    ]);
  });

  it("go on after a restart of the same board, also where it first says nothing of itself; of another, none are taken", () => {
    const { board, amplifier, gain, powered_up_at_us } = FACTS;
    const found = (): Bench => inUse().take(check(50), LOAD_N / 2);
    const nobody = { kind: "epoch", board: null, amplifier: null, gain: null, powered_up_at_us: null } as const;
    const same = found().give(nobody);
    expect(same.give(check(25, "too soon")).error("too soon")).toContain("no-calibration");
    same.give({ kind: "epoch", board, amplifier, gain, powered_up_at_us });
    expect(same.take(check(25, "more"), LOAD_N / 4).answer("more")?.ok).toBe(true);
    same.give(ACCEPT);
    const [made] = same.effects.flatMap((effect) => (effect.do === "checked" ? [effect.check] : []));
    expect(made?.checks.map(({ mass_kg }) => mass_kg)).toEqual([50, 25]);
    const other = found().give({ kind: "epoch", board: "press-right", amplifier, gain, powered_up_at_us });
    expect(other.give(check(25, "more")).error("more")).toContain("no-calibration");
    expect(other.give(ACCEPT).error("r-accept")).toContain("no-calibration");
  });

  it("with the load of the point alone are told what is taken for the bend", () => {
    const bench = zeroed().take(load(100), LOAD_N).take(check(100), LOAD_N);
    expect(resultOf(bench, "r-check")["warnings"]).toEqual([expect.stringMatching(/0\.1 % of capacity/)]);
    bench.give(ACCEPT);
    const line = recordOf(bench).budget.find(({ source }) => source === "non-linearity");
    expect(line?.standard_uncertainty_N).toBeCloseTo(5 / Math.sqrt(3), 9);
    const elsewhere = zeroed()
      .take(load(100), LOAD_N)
      .take(check(50), LOAD_N / 2);
    expect(resultOf(elsewhere, "r-check")["warnings"]).toEqual([]);
  });
});

describe("what checks add to the budget, by hand", () => {
  const read = (force_N: number, indicated_force_N: number, rest: Partial<Check> = {}): Check => ({
    when: "as-left",
    loading: "increasing",
    series: 1,
    force_N,
    mass_kg: null,
    mean_counts: 0,
    standard_error_counts: 0,
    noise_counts: 0,
    readings: 240,
    indicated_force_N,
    relative_error: force_N === 0 ? null : (indicated_force_N - force_N) / force_N,
    ...rest,
  });
  const lines = (checks: readonly Check[]): Record<string, number> =>
    Object.fromEntries(
      checkLines({ checks, load_N: 1000, cell_capacity_N: 5000 }).map((line) => [
        line.source,
        line.standard_uncertainty_N,
      ]),
    );

  it("the largest residual beside the load point, a rectangle", () => {
    expect(lines([read(250, 251), read(500, 497)])).toEqual({ "non-linearity": 3 / Math.sqrt(3) });
  });

  it("a load that does not read again what the load point read: one of two hangings, about their mean", () => {
    // 0 N and 8 N off: deviations of 4 N either way, one degree of freedom, for which Student's t is 12.706 (tables).
    const of_two_N = (8 / Math.SQRT2) * (12.706 / 2);
    const made = lines([read(250, 251), read(1000, 1008)]);
    expect(made["non-linearity"]).toBeCloseTo(1 / Math.sqrt(3), 12);
    expect(made["repeatability"]).toBeCloseTo(of_two_N, 9);
    // Both ways are one hanging, so that friction is not counted again; and a load a little lighter will do.
    const down = read(1000, 1012, { loading: "decreasing" });
    expect(lines([read(1000, 1004), down])["repeatability"]).toBeCloseTo(of_two_N, 9);
    expect(lines([read(950, 942)])["repeatability"]).toBeCloseTo(of_two_N, 9);
  });

  it("both ways of one load count as their mean: what hangs in the bearing is no bend", () => {
    expect(lines([read(500, 494), read(500, 508, { loading: "decreasing" })])["non-linearity"]).toBeCloseTo(
      1 / Math.sqrt(3),
      12,
    );
  });

  it("the zero that came back, and what scatters from one hanging to the next (type A)", () => {
    const series = [1, 2, 3].map((number) => read(500, 500 + number, { series: number }));
    const made = lines([
      read(0, -0.6, { loading: "decreasing" }),
      ...series,
      read(250, 251),
      read(250, 253, { series: 2 }),
    ]);
    expect(made["zero return"]).toBeCloseTo(0.6 / Math.sqrt(3), 12);
    // Squares about their means: 2 of three at 500 N, 2 of two at 250 N; three degrees of freedom, t 3.182.
    expect(made["repeatability"]).toBeCloseTo(Math.sqrt(4 / 3) * (3.182 / 2), 9);
  });

  it("are there all in an accepted record, which is as uncertain as all of them together", () => {
    const bench = zeroed().take(load(100), LOAD_N);
    bench.take(check(50), LOAD_N / 2 + 1).take({ ...check(50, "2"), series: 2 } as ProcedureInput, LOAD_N / 2 + 2);
    bench.take({ ...EMPTY, request: "empty", loading: "decreasing" }, 0.5).give(ACCEPT);
    const record = recordOf(bench);
    expect(record.budget.filter(({ constant }) => constant).map(({ source }) => source)).toEqual([
      "non-linearity",
      "zero return",
      "repeatability",
    ]);
    const squares = record.budget.reduce((sum, { standard_uncertainty_N }) => sum + standard_uncertainty_N ** 2, 0);
    expect(record.expanded_uncertainty_N).toBeCloseTo(2 * Math.sqrt(squares), 9);
    expect(record.expanded_uncertainty_N).toBeGreaterThan(Number(resultOf(bench, "r-load")["expanded_uncertainty_N"]));
  });
});
