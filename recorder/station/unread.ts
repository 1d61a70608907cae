/**
 * How long no reading has come, by the host's clock. Whatever else comes does not count: noise, text at a wrong baud rate,
 * the answers of a board whose amplifier is dead.
 *
 * A host that stalls must never look like that: its readings wait, and are read once the loop turns again. So every tick
 * adds what it took, but never more than its share, and what was reached counts only at the tick after: between the two
 * the loop has polled, and found no reading.
 */
export interface Unread {
  readonly waited_ms: number;
  readonly ticked_ms: number;
}

export const UNREAD: Unread = { waited_ms: 0, ticked_ms: Number.NEGATIVE_INFINITY };

const LONGEST_TICK_MS = 100;
/** Until the first reading: longer than a board takes to start, to be set and to settle. */
export const FIRST_READING_MS = 5000;

/** `waited_ms` of the state before is what has been polled for: compare that. */
export const tickUnread = ({ waited_ms, ticked_ms }: Unread, now_ms: number): Unread => ({
  waited_ms: waited_ms + Math.max(0, Math.min(now_ms - ticked_ms, LONGEST_TICK_MS)),
  ticked_ms: now_ms,
});

export const readAgain = (was: Unread): Unread => (was.waited_ms === 0 ? was : { ...was, waited_ms: 0 });
