/**
 * A load as somebody states it, the force it puts on the sensor, and whether it can calibrate this station at all.
 * Forces in N, masses in kg; a force, like a mass, is taken to pull straight down, so a lever turns both the same way.
 */
import { acrossLever, loadForce_N } from "../gravity.ts";
import { type Refused, refusal, shown } from "../outcome.ts";

/**
 * For a load whose tolerance nobody stated: a plate weighed on any sound scale, or a good training plate, is within
 * 1 %. Rough castings may be 3 % off (common practice, no source): weigh them.
 */
export const DEFAULT_RELATIVE_TOLERANCE = 0.01;
/** Of the cell's capacity. A smaller span would multiply every error of the points. */
const SMALLEST_SPAN = 0.02;

export interface LoadRequest {
  /** The load as a mass that hangs, or as a force; exactly one of them. */
  readonly mass_kg?: number | undefined;
  readonly force_N?: number | undefined;
  /** Half-width, as a fraction of the load. */
  readonly relative_tolerance?: number | undefined;
  readonly at?: "handle" | "cell" | undefined;
  readonly lever_angle_deg?: number | undefined;
}

export interface KnownLoad {
  /** What the load puts on the sensor: gravity, buoyancy and lever angle taken into account. */
  readonly force_N: number;
  readonly mass_kg: number | null;
  readonly relative_tolerance: number;
  readonly at: "handle" | "cell";
  readonly lever_angle_deg: number | null;
}

/** Forces closer than this are of the same load. */
const SAME_LOAD = 1e-6;

/** N, neither below zero. */
export const sameForce = (one_N: number, other_N: number): boolean =>
  Math.abs(one_N - other_N) <= SAME_LOAD * Math.max(one_N, other_N);

/** How a load was put on, for the record. */
export const appliedOf = ({ at, lever_angle_deg, relative_tolerance }: KnownLoad) => ({
  at,
  lever_angle_deg,
  relative_tolerance,
});

export interface PlaceFacts {
  readonly latitude_deg: number;
  readonly altitude_m: number;
}

export interface CellFacts {
  readonly cell_capacity_N: number;
  readonly force_limit_N: number;
  readonly working_force_N: number;
}

export type LoadResult = { readonly ok: true; readonly load: KnownLoad } | Refused;

/** A check may be light; what the scale is made from may not. */
export type LoadUse = "calibration" | "check";

/** To be asked before anybody waits for a still window. */
export function knownLoad(
  asked: LoadRequest,
  place: PlaceFacts,
  cell: CellFacts,
  use: LoadUse = "calibration",
): LoadResult {
  const { mass_kg, lever_angle_deg } = asked;
  const straight_N = straightDown_N(asked, place);
  if (straight_N === null) {
    return refusal("bad-request", "The load must be given once.", "Give it as mass_kg or as force_N.");
  }
  if (asked.at === "cell" && lever_angle_deg !== undefined) {
    return refusal("bad-request", "A load at the cell has no lever angle.", "Leave the angle out, or say at handle.");
  }
  const load: KnownLoad = {
    force_N: straight_N * acrossLever(lever_angle_deg ?? 0),
    mass_kg: mass_kg ?? null,
    relative_tolerance: asked.relative_tolerance ?? DEFAULT_RELATIVE_TOLERANCE,
    at: asked.at ?? "handle",
    lever_angle_deg: lever_angle_deg ?? null,
  };
  return loadRefusal(load, cell, use) ?? { ok: true, load };
}

/** What hangs from the grip, N; null: stated twice or not at all. */
function straightDown_N({ mass_kg, force_N }: LoadRequest, place: PlaceFacts): number | null {
  if (mass_kg === undefined) return force_N ?? null;
  return force_N === undefined ? loadForce_N({ mass_kg, ...place }) : null;
}

/** The loads a scale can be made from here, N. */
export function loadRange_N({ cell_capacity_N, force_limit_N }: CellFacts): { least_N: number; most_N: number } {
  return { least_N: SMALLEST_SPAN * cell_capacity_N, most_N: Math.min(cell_capacity_N, force_limit_N) };
}

/** Why a load is out of range for this cell and load path; null where it is not. */
export function loadRefusal(load: KnownLoad, cell: CellFacts, use: LoadUse = "calibration"): Refused | null {
  const { force_N } = load;
  const { cell_capacity_N, force_limit_N, working_force_N } = cell;
  const what = load.mass_kg === null ? "The load" : `A load of ${shown(load.mass_kg)} kg`;
  if (!(force_N > 0 && Number.isFinite(force_N))) {
    return refusal("out-of-range", `${what} puts no force on the sensor.`, "Give a load above zero.");
  }
  if (force_N > cell_capacity_N) {
    return refusal(
      "out-of-range",
      `${what} puts ${shown(force_N)} N on a cell of ${shown(cell_capacity_N)} N.`,
      `Use a load of at most ${shown(Math.min(cell_capacity_N, force_limit_N))} N.`,
    );
  }
  if (force_N > force_limit_N) {
    return refusal(
      "out-of-range",
      `${what} puts ${shown(force_N)} N on a load path limited to ${shown(force_limit_N)} N.`,
      `Use a load of at most ${shown(force_limit_N)} N.`,
    );
  }
  const smallest_N = loadRange_N(cell).least_N;
  if (use === "calibration" && force_N < smallest_N) {
    return refusal(
      "out-of-range",
      `${what} puts ${shown(force_N)} N on the sensor, under 2 % of the cell's ${shown(cell_capacity_N)} N.`,
      `Use a load of at least ${shown(smallest_N)} N, best near the working force of ${shown(working_force_N)} N.`,
    );
  }
  return null;
}
