/**
 * Joins the two halves of a repetition where lowering is done against force too and the board gives no muscle action:
 * a repetition is the stretch between two deepest valleys, its peak the higher; its halves are never compared.
 *
 * Halves pair up from the first on. Where the valley inside a pair proves deeper than the ones around it, the pairing
 * had slipped: the first half stands alone and the second begins the next repetition.
 */
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import type { Closed } from "./segment.ts";
import { LONE_HALF_S, type SetSetup } from "./setup.ts";

export interface Halves {
  readonly first: Closed | null;
  /** Force in the valley before `first`, N. */
  readonly before_N: number;
}

export const NO_HALVES: Halves = { first: null, before_N: 0 };

/** Whether an effort of such a muscle action is only half of a repetition. */
export const isHalf = (setup: SetSetup, action: MuscleAction | null): boolean =>
  setup.style === "continuous" && setup.peaks_per_repetition === 2 && action === null;

export interface Paired {
  readonly halves: Halves;
  readonly whole: Closed | null;
}

/**
 * A half has ended in a valley of so much force, N (0 where it ended at the release). A valley counts as deeper only by
 * more than `margin_N`, so that two alike are not told apart by noise.
 */
export function pair(halves: Halves, half: Closed, ended_in_N: number, margin_N: number): Paired {
  const { first, before_N } = halves;
  if (first === null) return { halves: { first: half, before_N: half.valley_N ?? 0 }, whole: null };
  const inside_N = half.valley_N ?? 0;
  if (inside_N < Math.min(before_N, ended_in_N) - margin_N) {
    return { halves: { first: half, before_N: inside_N }, whole: alone(first) };
  }
  return { halves: NO_HALVES, whole: join(first, half) };
}

/** A first half left alone long enough stands by itself. */
export function leaveAlone(halves: Halves, at_us: number): Paired {
  const { first } = halves;
  if (first === null || at_us - first.end_us < LONE_HALF_S * 1e6) return { halves, whole: null };
  return { halves: NO_HALVES, whole: alone(first) };
}

/** Counted and timed, but compared with nothing: it may be the weaker half. */
export const alone = (half: Closed): Closed => ({ ...half, comparable: false });

export function join(first: Closed, second: Closed): Closed {
  const higher = second.peak_N > first.peak_N ? second : first;
  return {
    start_us: first.start_us,
    end_us: second.end_us,
    peak_us: higher.peak_us,
    peak_N: higher.peak_N,
    comparable: true,
    may_raise_best: first.may_raise_best || second.may_raise_best,
    valley_N: first.valley_N,
    impulse_N_s: first.impulse_N_s + second.impulse_N_s,
    muscle_action: null,
    verdict: second.verdict ?? first.verdict,
  };
}
