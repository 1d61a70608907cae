/**
 * The still windows of a calibration: what may be asked for next, and what a complete window becomes.
 *
 * A load point is kept only when it already makes a good scale with the unloaded one. The same load reached from below and
 * from above makes one point, their mean; half of what stands between them is what the lever's bearing takes (friction).
 * Which scale a check is read by goes with its time: before the first new point the one in force (as found), after the load
 * point the new one (as left).
 */

import type { Refused } from "../outcome.ts";
import type { Check } from "../record.ts";
import { forceOf } from "../scale.ts";
import { bendRemark } from "../uncertainty/check-budget.ts";
import { fitTwoPoint } from "../uncertainty/two-point.ts";
import { warmUpLeft_s } from "../warm-up.ts";
import { measured } from "./accepted-record.ts";
import { appliedOf, type KnownLoad, knownLoad, type LoadRequest, sameForce } from "./known-load.ts";
import {
  CAPTURE_RUNNING,
  CHECK_BEFORE_LOAD,
  NO_SCALE_TO_CHECK,
  neverAbove,
  otherLoad,
  POINTS_GONE,
  stillCold,
  UNLOADED_FIRST,
} from "./procedure-refusals.ts";
import {
  answered,
  type Capture,
  type CaptureOf,
  endCapture,
  NOTHING,
  type OpenProcedure,
  type ProcedureInput,
  type ProcedureStep,
  type TakenLoad,
} from "./procedure-state.ts";
import { limitsOf } from "./still-limits.ts";
import { CAPTURE_BEGUN, type StillPoint, stepStillWindow } from "./still-window.ts";

export const beginZero = (state: OpenProcedure, request: string): ProcedureStep =>
  beginCapture(state, request, { is: "zero" });

export function beginLoad(state: OpenProcedure, input: Extract<ProcedureInput, { kind: "load" }>): ProcedureStep {
  const { request, loading = "increasing" } = input;
  if (state.capture !== null) return answered(state, request, CAPTURE_RUNNING);
  if (state.interrupted) return answered(state, request, POINTS_GONE);
  if (state.unloaded === null) return answered(state, request, UNLOADED_FIRST);
  const known = knownLoad(input, state.facts, state.facts);
  if (!known.ok) return answered(state, request, known);
  const { load } = known;
  const reached = state.loads.find((taken) => taken.loading !== loading);
  // From the other side it must be the same load; the same side again takes the place of the first.
  if (reached !== undefined && loading === "decreasing" && !sameForce(reached.load.force_N, load.force_N)) {
    return answered(state, request, otherLoad(reached.load, load));
  }
  return beginCapture(state, request, { is: "load", load, loading });
}

export function beginCheck(state: OpenProcedure, input: Extract<ProcedureInput, { kind: "check" }>): ProcedureStep {
  const { request, loading, series = 1 } = input;
  if (state.capture !== null) return answered(state, request, CAPTURE_RUNNING);
  if (state.interrupted) return answered(state, request, POINTS_GONE);
  if (state.fit === null && state.unloaded !== null) return answered(state, request, CHECK_BEFORE_LOAD);
  if (state.fit === null && state.facts.in_force === null) return answered(state, request, NO_SCALE_TO_CHECK);
  const known = checkLoad(input, state);
  return known.ok
    ? beginCapture(state, request, { is: "check", load: known.load, loading, series })
    : answered(state, request, known);
}

function checkLoad(input: LoadRequest, { facts }: OpenProcedure): { ok: true; load: KnownLoad | null } | Refused {
  if (input.force_N === 0 && input.mass_kg === undefined) return { ok: true, load: null };
  return knownLoad(input, facts, facts, "check");
}

function beginCapture(state: OpenProcedure, request: string, of: CaptureOf): ProcedureStep {
  if (state.capture !== null) return answered(state, request, CAPTURE_RUNNING);
  return { state: { ...state, capture: { request, of, window: CAPTURE_BEGUN } }, effects: NOTHING };
}

/** One more reading of a running window. */
export function capture(
  state: OpenProcedure,
  running: Capture,
  reading: { readonly at_us: number; readonly counts: number },
): ProcedureStep {
  const cold_s = warmUpLeft_s(reading.at_us, state.facts.powered_up_at_us);
  if (cold_s > 0) return endCapture(state, stillCold(cold_s));
  const { state: window, result } = stepStillWindow(
    running.window,
    reading.at_us,
    reading.counts,
    limitsOf(state.facts),
  );
  if (result === null) return { state: { ...state, capture: { ...running, window } }, effects: NOTHING };
  if (!result.ok) return endCapture(state, result);
  const { of } = running;
  switch (of.is) {
    case "zero":
      return endCapture(withZero(state, result.point), { ok: true, result: captured(result.point) });
    case "load":
      return withLoad(state, { load: of.load, loading: of.loading, point: result.point });
    case "check":
      return withCheck(state, of, result.point);
  }
}

/** What stays of the checks when their scale goes. */
export const asFound = (checks: readonly Check[]): Check[] => checks.filter(({ when }) => when === "as-found");

const captured = ({ mean_counts, standard_error_counts }: StillPoint) => ({ mean_counts, standard_error_counts });

function withZero(state: OpenProcedure, unloaded: StillPoint): OpenProcedure {
  return { ...state, unloaded, loads: [], fit: null, checks: asFound(state.checks), interrupted: false };
}

function withLoad(state: OpenProcedure, taken: TakenLoad): ProcedureStep {
  const { unloaded, facts } = state;
  if (unloaded === null) return endCapture(state, UNLOADED_FIRST);
  const other = state.loads.find(
    ({ load, loading }) => loading !== taken.loading && sameForce(load.force_N, taken.load.force_N),
  );
  if (other !== undefined && taken.loading === "decreasing" && !roseAbove(state, other.point)) {
    return endCapture(state, neverAbove(taken.load));
  }
  const loads = other === undefined ? [taken] : [other, taken];
  const { window_us } = limitsOf(facts);
  const made = fitTwoPoint(unloaded, meanPoint(loads), taken.load, facts, window_us, halfBetween_counts(loads));
  if (!made.ok) return endCapture(state, made);
  const { fit } = made;
  // What was read by another scale says nothing of this one.
  const checks = asFound(state.checks);
  const warnings = fit.counts_per_N < 0 ? ["The wires are reversed; the calibration takes care of it."] : [];
  const result = {
    ...captured(taken.point),
    force_N: taken.load.force_N,
    counts_per_N: fit.counts_per_N,
    expanded_uncertainty_N: fit.expanded_uncertainty_N,
    friction_N: fit.friction_N,
    budget: fit.budget,
    warnings,
  };
  return endCapture({ ...state, loads, farthest_counts: Number.NaN, fit, checks }, { ok: true, result });
}

/** What an open procedure keeps of one more reading, until the load is read from the other side as well. */
export function farthestOf({ unloaded, loads, farthest_counts }: OpenProcedure, counts: number): number {
  if (unloaded === null || loads.length === 0) return Number.NaN;
  const away = (of_counts: number): number => Math.abs(of_counts - unloaded.mean_counts);
  return Number.isNaN(farthest_counts) || away(counts) > away(farthest_counts) ? counts : farthest_counts;
}

/** In standard deviations of a reading: a still load's readings do not come as far. */
const RISEN = 6;

/** Whether somebody put more on since the load was read from below: else their difference would pass for no friction. */
function roseAbove({ unloaded, farthest_counts }: OpenProcedure, below: StillPoint): boolean {
  const from_counts = unloaded?.mean_counts ?? 0;
  const risen_counts = Math.abs(farthest_counts - from_counts) - Math.abs(below.mean_counts - from_counts);
  return risen_counts > RISEN * below.noise_counts;
}

/** The load point: the mean of what was read from below and from above, each counting alike. */
function meanPoint(loads: readonly TakenLoad[]): StillPoint {
  const points = loads.map(({ point }) => point);
  const sum = (of: (point: StillPoint) => number): number => points.reduce((total, point) => total + of(point), 0);
  return {
    mean_counts: sum(({ mean_counts }) => mean_counts) / points.length,
    standard_error_counts: Math.hypot(...points.map((point) => point.standard_error_counts)) / points.length,
    noise_counts: Math.max(...points.map(({ noise_counts }) => noise_counts)),
    trend_counts: points.reduce(
      (most, { trend_counts }) => (Math.abs(trend_counts) > Math.abs(most) ? trend_counts : most),
      0,
    ),
    readings: sum(({ readings }) => readings),
  };
}

/** Half of what stands between both ways; null: one way only. */
function halfBetween_counts(loads: readonly TakenLoad[]): number | null {
  const [one, two] = loads;
  if (one === undefined || two === undefined) return null;
  return Math.abs(one.point.mean_counts - two.point.mean_counts) / 2;
}

function withCheck(state: OpenProcedure, of: Extract<CaptureOf, { is: "check" }>, point: StillPoint): ProcedureStep {
  const { fit, facts } = state;
  const scale = fit ?? facts.in_force;
  if (scale === null) return endCapture(state, NO_SCALE_TO_CHECK);
  const { load, loading, series } = of;
  const force_N = load?.force_N ?? 0;
  const indicated_force_N = forceOf(point.mean_counts, scale.zero_counts, scale.counts_per_N);
  const check: Check = {
    when: fit === null ? "as-found" : "as-left",
    loading,
    series,
    force_N,
    mass_kg: load?.mass_kg ?? null,
    ...measured(point),
    indicated_force_N,
    relative_error: load === null ? null : (indicated_force_N - force_N) / force_N,
    ...(load === null ? {} : { applied: appliedOf(load) }),
  };
  // Taken once more, it takes the place of the first.
  const others = state.checks.filter((known) => !sameCheck(known, check));
  const checks = [...others, check];
  const remark = load === null || fit === null ? null : remarkOn(state, checks);
  const warnings = remark === null ? [] : [remark];
  return endCapture({ ...state, checks }, { ok: true, result: { ...check, warnings } });
}

function remarkOn({ loads }: OpenProcedure, checks: readonly Check[]): string | null {
  const left = checks.filter(({ when }) => when === "as-left");
  const [first] = loads;
  return first === undefined ? null : bendRemark(left, first.load.force_N);
}

const sameCheck = (one: Check, other: Check): boolean =>
  one.when === other.when &&
  one.loading === other.loading &&
  one.series === other.series &&
  sameForce(one.force_N, other.force_N);
