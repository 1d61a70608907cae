/**
 * Two captured points to a scale and its uncertainty, or one sentence that names what would do.
 *
 * Point one is unloaded, point two carries a known force. The line between them has no residual of its own, so what it
 * is worth is said by its budget at the station's working force alone. A negative slope is legal: the wires are
 * reversed, and the record handles it.
 */
import { acrossLever, GRAVITY_TOLERANCE } from "../gravity.ts";
import { type Refused, refusal, shown } from "../outcome.ts";
import { type CellFacts, type KnownLoad, loadRefusal } from "../procedure/known-load.ts";
import { type StillPoint, unrest } from "../procedure/still-window.ts";
import type { BudgetLine } from "../record.ts";
import { division_N } from "../scale.ts";
import { type LinePoint, lineThrough, pointShares } from "./line.ts";
import { expanded_N, largest, rectangular } from "./uncertainty.ts";

/** How well the angle of a lever is read with a pocket inclinometer (common practice, no source). */
const ANGLE_TOLERANCE_DEG = 2;
const LARGEST_RELATIVE_UNCERTAINTY = 0.02;
/** Two points closer than this many standard deviations of a reading are the same point. */
const SAME_POINT_SDS = 6;
/** Stillness in divisions of the cell: 0.1 % of capacity. */
const STILL_DIVISIONS = 5;
/** Standard uncertainty of a value rounded to a whole count. */
const ROUNDING_COUNTS = 1 / Math.sqrt(12);

export interface TwoPoint {
  readonly zero_counts: number;
  /** Negative: the wires are reversed. */
  readonly counts_per_N: number;
  readonly budget: readonly BudgetLine[];
  /** k = 2, at the working force. */
  readonly expanded_uncertainty_N: number;
  /** What the lever's bearing takes at this load, either way; null: it was not tried. */
  readonly friction_N: number | null;
}

/** Largest movement in a still window, in counts of a scale. */
export function stillLimit_counts(cell_capacity_N: number, counts_per_N: number): number {
  return STILL_DIVISIONS * division_N(cell_capacity_N) * Math.abs(counts_per_N);
}

export type TwoPointResult = { readonly ok: true; readonly fit: TwoPoint } | Refused;

export function fitTwoPoint(
  unloaded: StillPoint,
  loaded: StillPoint,
  load: KnownLoad,
  cell: CellFacts,
  window_us: number,
  friction_counts: number | null = null,
): TwoPointResult {
  const bad_load = loadRefusal(load, cell);
  if (bad_load !== null) return bad_load;
  const apart_counts = Math.abs(loaded.mean_counts - unloaded.mean_counts);
  const same_counts = SAME_POINT_SDS * Math.hypot(unloaded.noise_counts, loaded.noise_counts);
  if (apart_counts <= same_counts) {
    return refusal(
      "out-of-range",
      `Loaded and unloaded read the same: ${shown(apart_counts)} counts apart, more than ${shown(same_counts)} would do.`,
      "Check that the load really pulls on the sensor and that the unloaded point was taken without it.",
    );
  }
  const points = asLinePoints(unloaded, loaded, load.force_N);
  const counts_per_N = 1 / lineThrough(points.unloaded, points.loaded).slope;
  const limit_counts = stillLimit_counts(cell.cell_capacity_N, counts_per_N);
  for (const point of [unloaded, loaded]) {
    const error = unrest(point.trend_counts, point.noise_counts, limit_counts, window_us, counts_per_N);
    if (error !== null) return { ok: false, error };
  }
  const friction_N = friction_counts === null ? null : friction_counts / Math.abs(counts_per_N);
  const budget = [...budgetOf(unloaded, loaded, load, cell.working_force_N), ...frictionLine(friction_N)];
  const expanded_uncertainty_N = expanded_N(budget);
  const uncertain = tooUncertain(budget, cell.working_force_N);
  if (uncertain !== null) return uncertain;
  return {
    ok: true,
    fit: { zero_counts: unloaded.mean_counts, counts_per_N, budget, expanded_uncertainty_N, friction_N },
  };
}

/**
 * A bearing holds part of any force back, of which way it comes from nobody knows later; nor where the empty lever came to
 * rest in it, so that it counts twice, independently. It has a part that goes with the force and one that does not; what was
 * seen at one load is taken for every force, scaled neither up nor down.
 */
function frictionLine(friction_N: number | null): BudgetLine[] {
  if (friction_N === null) return [];
  return [{ source: "friction", standard_uncertainty_N: Math.SQRT2 * rectangular(friction_N), constant: true }];
}

function asLinePoints(
  unloaded: StillPoint,
  loaded: StillPoint,
  force_N: number,
): { unloaded: LinePoint; loaded: LinePoint } {
  return {
    unloaded: { x: unloaded.mean_counts, u_x: unloaded.standard_error_counts, y: 0, u_y: 0 },
    loaded: { x: loaded.mean_counts, u_x: loaded.standard_error_counts, y: force_N, u_y: 0 },
  };
}

/** Standard uncertainties in N at the working force, every source on a line of its own. */
function budgetOf(unloaded: StillPoint, loaded: StillPoint, load: KnownLoad, working_force_N: number): BudgetLine[] {
  const points = asLinePoints(unloaded, loaded, load.force_N);
  const { slope, intercept } = lineThrough(points.unloaded, points.loaded);
  const working_counts = (working_force_N - intercept) / slope;
  const scatter = pointShares(points.unloaded, points.loaded, working_counts);
  const rounding = pointShares(
    { ...points.unloaded, u_x: ROUNDING_COUNTS },
    { ...points.loaded, u_x: ROUNDING_COUNTS },
    working_counts,
  );
  const relative = (half_width: number): number => rectangular(half_width) * working_force_N;
  const budget: BudgetLine[] = [
    { source: "unloaded point", standard_uncertainty_N: scatter.a },
    { source: "load point", standard_uncertainty_N: scatter.b },
    { source: "load tolerance", standard_uncertainty_N: relative(load.relative_tolerance) },
    { source: "resolution", standard_uncertainty_N: Math.hypot(rounding.a, rounding.b) },
  ];
  if (load.mass_kg !== null) {
    budget.push({ source: "gravity", standard_uncertainty_N: relative(GRAVITY_TOLERANCE) });
  }
  if (load.lever_angle_deg !== null) {
    budget.push({ source: "lever angle", standard_uncertainty_N: relative(angleTolerance(load.lever_angle_deg)) });
  }
  return budget;
}

/** Largest relative change of the force within the tolerance of the angle. */
function angleTolerance(lever_angle_deg: number): number {
  const steeper = acrossLever(Math.abs(lever_angle_deg) + ANGLE_TOLERANCE_DEG);
  return Math.abs(1 - steeper / acrossLever(lever_angle_deg));
}

const WHAT_HELPS: Readonly<Record<string, string>> = {
  "load tolerance": "Weigh the load and state its tolerance.",
  "lever angle": "Level the lever before hanging the load.",
  friction: "Free and grease the lever's bearing, load and unload three times, then take the point anew.",
  "non-linearity": "Look for what touches or bends under load, and calibrate with a load nearer the working force.",
  "zero return": "Load and unload three times, look for what sticks, then take both points anew.",
  repeatability: "Hang each load at the same mark and let it come to rest, then take both points anew.",
};

/** Why a scale of this budget is not to be put in force; null: it may be. */
export function tooUncertain(budget: readonly BudgetLine[], working_force_N: number): Refused | null {
  const expanded = expanded_N(budget);
  if (expanded <= LARGEST_RELATIVE_UNCERTAINTY * working_force_N) return null;
  const worst = largest(budget).source;
  const percent = shown((100 * expanded) / working_force_N);
  return refusal(
    "out-of-range",
    `The scale would be uncertain by ${percent} % at ${shown(working_force_N)} N, mostly from the ${worst}; 2 % would do.`,
    WHAT_HELPS[worst] ?? "Use a heavier load, nearer the working force, and let it hang quiet.",
  );
}
