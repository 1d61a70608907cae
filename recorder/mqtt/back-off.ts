/**
 * How long to wait before trying again: 1 s, doubling, up to a minute, plus up to a fifth of it at random so that many
 * recorders do not all come back to a restarted broker in the same moment.
 *
 * Pure: `random` (0 up to 1) arrives as an argument.
 */

export interface WaitLimits {
  readonly first_wait_ms: number;
  readonly longest_wait_ms: number;
}

export interface BackOffLimits extends WaitLimits {
  /** A connection up for less has proved nothing: two recorders that throw each other out would go on at full speed. */
  readonly steady_ms: number;
}

export const BACK_OFF: BackOffLimits = { first_wait_ms: 1000, longest_wait_ms: 60_000, steady_ms: 30_000 };

/** The wait after `failures` failures in a row (from 1), ms. */
export function wait_ms(failures: number, random: number, limits: WaitLimits = BACK_OFF): number {
  const doubled_ms = limits.first_wait_ms * 2 ** Math.min(failures - 1, 30);
  return Math.min(doubled_ms, limits.longest_wait_ms) * (1 + 0.2 * random);
}

/** Failures in a row after a connection that was up for `up_ms` (0: it never was) has ended. */
export function failuresAfter(failures: number, up_ms: number, limits: BackOffLimits = BACK_OFF): number {
  return up_ms >= limits.steady_ms ? 1 : failures + 1;
}
