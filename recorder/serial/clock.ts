/** Time for the link, so that a test can be its clock. Monotonic; it has nothing to do with the time of day. */
export interface LinkClock {
  /** Whole microseconds. */
  now_us(): number;
  /** Runs once, after a delay; the function it returns takes that back. */
  after(delay_ms: number, run: () => void): () => void;
}

export const MONOTONIC_CLOCK: LinkClock = {
  now_us: () => Math.round(performance.now() * 1000),
  after(delay_ms, run) {
    const timer = setTimeout(run, delay_ms);
    return () => clearTimeout(timer);
  },
};
