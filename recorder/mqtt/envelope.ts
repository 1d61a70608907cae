/** The envelope every payload begins with, from facts that are handed in. */
import type { Envelope } from "../../protocol/messages/parts.ts";

/** What does not change while the recorder runs. */
export interface RecorderFacts {
  readonly recorder: string;
  /** UUID, new per start. */
  readonly boot: string;
  readonly simulated: boolean;
}

/** A moment of the wall clock, and whether that clock can be believed. */
export interface Moment {
  /** Milliseconds since 1970-01-01 UTC. */
  readonly at_ms: number;
  readonly clock_synced: boolean;
}

/** Throws a RangeError for a moment that is no date: that is a fault of the program. */
export function envelopeOf(facts: RecorderFacts, moment: Moment): Envelope {
  return {
    schema_version: 1,
    at: new Date(moment.at_ms).toISOString(),
    clock_synced: moment.clock_synced,
    recorder: facts.recorder,
    boot: facts.boot,
    simulated: facts.simulated,
  };
}
