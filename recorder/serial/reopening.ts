/** How long to wait before a port is opened again: 0.5 s, doubling up to 30 s. Pure. */
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 30_000;
/** Stations that lost one hub together do not all come back in the same moment. */
const JITTER_SHARE = 0.2;

/** After `failures` in a row, from 1. `jitter` is 0 up to 1; it only ever shortens the wait. */
export function reopenAfter_ms(failures: number, jitter: number): number {
  const doubled_ms = FIRST_WAIT_MS * 2 ** Math.min(failures - 1, 16);
  return Math.min(doubled_ms, LONGEST_WAIT_MS) * (1 - JITTER_SHARE * jitter);
}
