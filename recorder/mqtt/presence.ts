/** The recorder's presence, as the broker keeps it; `lost` is the will, so it has to be said beforehand. */
import type { PresenceHealth, PresenceMessage } from "../../protocol/messages/presence.ts";
import { envelopeOf, type Moment, type RecorderFacts } from "./envelope.ts";

export interface PresenceFacts extends RecorderFacts {
  readonly version: string;
  readonly store: string;
  readonly stations: readonly string[];
  /** When this recorder started, ISO 8601 UTC. */
  readonly started_at: string;
}

/**
 * The payload for `reason`. `now` of a will is the moment of connecting: nobody can know when it will be sent, nor how the
 * recorder will be then.
 */
export function presenceOf(
  facts: PresenceFacts,
  reason: PresenceMessage["reason"],
  now: Moment,
  health: PresenceHealth | null,
): PresenceMessage {
  const envelope = envelopeOf(facts, now);
  return {
    ...envelope,
    online: reason === "start",
    reason,
    since: reason === "start" ? facts.started_at : envelope.at,
    version: facts.version,
    store: facts.store,
    stations: [...facts.stations],
    health: reason === "start" ? health : null,
  };
}
