/**
 * The classes of ISO 7500-1 whose limits all hold, over which levels. A range is without a hole and reaches the highest
 * level. A limit that was not tried holds nothing back; whoever words a class must say so.
 *
 * Every increasing series must keep the limit of the error, which is stricter than the mean of them that the standard
 * takes: one bad series cannot hide behind two good ones.
 */
import { CLASSES, type ClassLimits } from "./iso-7500-1.ts";
import type { Level } from "./levels.ts";

export interface HeldClass {
  readonly name: ClassLimits["name"];
  /** The lowest and the highest level of the range, N. */
  readonly from_N: number;
  readonly to_N: number;
  /** Below this force the resolution alone would forbid the class, N. */
  readonly resolution_limit_N: number;
}

/** The best first, then each wider one that holds further down; none: empty. */
export function heldClasses(
  levels: readonly Level[],
  zero_error: number | null,
  resolution_N: number,
): readonly HeldClass[] {
  const held: HeldClass[] = [];
  const highest = levels.at(-1);
  if (highest === undefined) return held;
  for (const limits of CLASSES) {
    if (!within(zero_error, limits.zero_error)) continue;
    const failing = levels.findLastIndex((level) => !keeps(level, limits, resolution_N));
    const lowest = levels[failing + 1];
    const wider = held.at(-1)?.from_N ?? Number.POSITIVE_INFINITY;
    if (lowest === undefined || lowest.force_N >= wider) continue;
    held.push({
      name: limits.name,
      from_N: lowest.force_N,
      to_N: highest.force_N,
      resolution_limit_N: limits.least_resolutions * resolution_N,
    });
  }
  return held;
}

const keeps = (level: Level, limits: ClassLimits, resolution_N: number): boolean =>
  level.worst_error !== null && brokenLimits(level, limits, resolution_N).length === 0;

/** What of the level lies beyond the limits, in the words of a sheet; what was not tried does not. */
export function brokenLimits(level: Level, limits: ClassLimits, resolution_N: number): readonly string[] {
  const fine =
    within(limits.least_resolutions * resolution_N, level.force_N) &&
    within(resolution_N / level.force_N, limits.resolution);
  return [
    ...(within(level.worst_error, limits.error) ? [] : ["error"]),
    ...(within(level.repeatability, limits.repeatability) ? [] : ["repeatability"]),
    ...(within(level.reversibility, limits.reversibility) ? [] : ["reversibility"]),
    ...(fine ? [] : ["resolution"]),
  ];
}

/** What lies on a limit is within it, though differences of decimal numbers come out a little beside it in binary. */
const ROUNDING = 1e-9;
export const within = (value: number | null, limit: number): boolean =>
  value === null || Math.abs(value) <= limit * (1 + ROUNDING);
