/**
 * Readings on paper. Single spikes are taken out as the rules of a set take them out; what was not measured is not bridged;
 * and of the many readings in one column of pixels the first, lowest, highest and last stay, so that no peak is lost and a
 * long set is no larger than a short one.
 */
import { median3 } from "../../calibration/median.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { SetCurve } from "./set-plot-facts.ts";

export interface Point {
  readonly s: number;
  readonly N: number;
}

/** A longer silence is a gap in the line. The rules of a set bridge as much. */
const BRIDGED_S = 0.3;

/** Unbroken stretches, N as the set's own figures count: without the resting force where that is taken off. */
export function stretches(message: SetMessage, curve: SetCurve, from_s: number): readonly (readonly Point[])[] {
  const off_N = message.resting_subtracted ? (message.resting_force_N ?? 0) : 0;
  const found: Point[][] = [];
  let running: Point[] = [];
  let before: readonly number[] = [];
  for (const [index, s] of curve.elapsed_s.entries()) {
    const N = curve.force_N[index] ?? null;
    const silent_s = s - (curve.elapsed_s[index - 1] ?? s);
    if (N === null || silent_s > BRIDGED_S) {
      running = [];
      before = [];
    }
    if (N === null) continue;
    const [one = N, two = one] = before;
    before = [two, N];
    if (s < from_s) continue;
    if (running.length === 0) found.push(running);
    running.push({ s, N: median3(one, two, N) - off_N });
  }
  return found;
}

/** At most four points a column; `columnOf` is whole and rises with time. */
export function reduced(points: readonly Point[], columnOf: (s: number) => number): readonly Point[] {
  const kept: Point[] = [];
  let column: Point[] = [];
  const settle = (): void => {
    const [first] = column;
    if (first === undefined) return;
    const lowest = column.reduce((least, point) => (point.N < least.N ? point : least));
    const highest = column.reduce((most, point) => (point.N > most.N ? point : most));
    const four = new Set([first, lowest, highest, column.at(-1)!]);
    kept.push(...column.filter((point) => four.has(point)));
  };
  for (const point of points) {
    if (column.length > 0 && columnOf(column[0]!.s) !== columnOf(point.s)) {
      settle();
      column = [];
    }
    column.push(point);
  }
  settle();
  return kept;
}

/** The highest reading within a stretch of time; null: none there. */
export function highestWithin(runs: readonly (readonly Point[])[], from_s: number, to_s: number): Point | null {
  let highest: Point | null = null;
  for (const run of runs) {
    for (const point of run) {
      if (point.s >= from_s && point.s <= to_s && (highest === null || point.N > highest.N)) highest = point;
    }
  }
  return highest;
}
