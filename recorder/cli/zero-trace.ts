/** The zero over time, as both its plots need it: entries in order, and the calibrations between them. */
import type { House } from "./quantities.ts";

/** One movement of the zero, as the service answers it. */
export interface ZeroEntry {
  /** ISO 8601. */
  readonly at: string;
  readonly calibration_id: string;
  readonly shift_counts: number;
  /** From the calibrated zero of its own record; null: that record is not kept. */
  readonly zero_shift_N: number | null;
  /** `asked`, `tracked`, `restored`, or what a later version says. */
  readonly cause: string;
  readonly performed_by: string | null;
}

export interface ZeroPlotOptions extends House {
  readonly capacity_N: number;
  /** Where it is known when each calibration was put in force; else each begins with its first zero. */
  readonly in_force_since?: readonly { readonly at: string; readonly calibration_id: string }[];
}

/** From the calibrated zero, and from the last asked one: shares of the cell's capacity. */
export const LARGEST_SHIFT = 0.04;
export const TRACKED_SHIFT = 0.02;

export interface ZeroPoint {
  readonly at_ms: number;
  readonly shift_N: number;
  readonly calibration_id: string;
  readonly cause: string;
  readonly performed_by: string | null;
}

export interface ZeroTrace {
  /** In order of time. */
  readonly points: readonly ZeroPoint[];
  readonly from_ms: number;
  readonly to_ms: number;
  /** When another calibration came, within the trace; not the first one's. */
  readonly calibrated_ms: readonly number[];
  /** The newest zero that was asked for or put back, of the calibration at the end; null: none since. */
  readonly asked: ZeroPoint | null;
}

const HOUR_MS = 3_600_000;

/** null: nothing to draw. */
export function zeroTrace(zeros: readonly ZeroEntry[], { in_force_since }: ZeroPlotOptions): ZeroTrace | null {
  const points = zeros
    .flatMap(({ at, zero_shift_N, calibration_id, cause, performed_by }) => {
      const at_ms = Date.parse(at);
      if (zero_shift_N === null || Number.isNaN(at_ms)) return [];
      return [{ at_ms, shift_N: zero_shift_N, calibration_id, cause, performed_by }];
    })
    .sort((one, other) => one.at_ms - other.at_ms);
  const first = points[0];
  const last = points.at(-1);
  if (first === undefined || last === undefined) return null;
  // A single moment has no breadth of its own.
  const spare_ms = Math.max(0, HOUR_MS - (last.at_ms - first.at_ms)) / 2;
  const begun = points.flatMap(({ at_ms, calibration_id }, index) =>
    index > 0 && points[index - 1]?.calibration_id !== calibration_id ? [at_ms] : [],
  );
  const known = in_force_since?.map(({ at }) => Date.parse(at)).filter((ms) => ms > first.at_ms && ms <= last.at_ms);
  const asked = points.findLast(({ cause }) => cause !== "tracked") ?? null;
  return {
    points,
    from_ms: first.at_ms - spare_ms,
    to_ms: last.at_ms + spare_ms,
    calibrated_ms: (known ?? begun).toSorted((one, other) => one - other),
    asked: asked?.calibration_id === last.calibration_id ? asked : null,
  };
}

/** Where the zero stood at a moment, of the calibration it had then; null: before the first. */
export function pointAt(points: readonly ZeroPoint[], at_ms: number): ZeroPoint | null {
  return points.findLast((point) => point.at_ms <= at_ms) ?? null;
}
