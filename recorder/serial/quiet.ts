/**
 * How long a port has been quiet, counted in turns of the event loop and not by the clock. Pure.
 *
 * A host that stalls must never look like a board that fell silent: its bytes wait in the kernel, and are read once the
 * loop turns again. So every tick adds what it took, but never more than its share, and what was reached counts only at
 * the tick after: between the two the loop has polled, and found nothing.
 */
export const TICK_MS = 100;

export interface Quiet {
  readonly quiet_ms: number;
  readonly ticked_at_ms: number;
}

export const quietFrom = (now_ms: number): Quiet => ({ quiet_ms: 0, ticked_at_ms: now_ms });

/** `quiet_ms` of the state before is what has been polled for: compare that. */
export function tickQuiet(state: Quiet, now_ms: number): Quiet {
  const passed_ms = Math.max(0, Math.min(now_ms - state.ticked_at_ms, TICK_MS));
  return { quiet_ms: state.quiet_ms + passed_ms, ticked_at_ms: now_ms };
}

/** No reading for this long is silence: the engine is told. */
export const silentAfter_ms = (period_s: number): number => Math.max(1000, 5 * period_s * 1000);
/** No byte for this long, where there were some: the port is closed and opened again. */
export const stalledAfter_ms = (period_s: number): number => Math.max(1000, 10 * period_s * 1000);
/** Open without a single byte: worth a hint. A board that restarts at every open has begun by then. */
export const HINT_AFTER_MS = 5000;
/** And then worth another try. Sooner would restart such a board for ever. */
export const NOTHING_AFTER_MS = 10_000;
