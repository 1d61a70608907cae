/**
 * What waits for a watcher that reads more slowly than the stations speak. Of live values and standing states only the
 * newest is worth having; efforts and sets all are, up to a bound.
 */
import type { StationTopic } from "../../protocol/messages/topics.ts";
import type { WatchEvent } from "./ports.ts";

/** About ten busy minutes of a gym; a reader further behind than that has gone. */
const MOST_KEPT = 256;

const LATEST_WINS: ReadonlySet<StationTopic> = new Set(["live", "state", "sensor", "latest-set"]);

export interface WaitingEvents {
  /** false: there are too many to keep, and this one was not. */
  push(event: WatchEvent): boolean;
  /** The oldest, taken out. */
  next(): WatchEvent | undefined;
}

export function createWaitingEvents(): WaitingEvents {
  // A Map keeps its order of insertion, so one structure is both the queue and the place of what newer values replace.
  const waiting = new Map<string, WatchEvent>();
  let kept = 0;
  let number = 0;
  return {
    push(event) {
      const replaceable = LATEST_WINS.has(event.topic);
      if (!replaceable && kept >= MOST_KEPT) return false;
      const key = replaceable ? `${event.topic}/${event.station}` : `${number++}`;
      waiting.delete(key);
      waiting.set(key, event);
      if (!replaceable) kept++;
      return true;
    },
    next() {
      const first = waiting.entries().next();
      if (first.done) return undefined;
      const [key, event] = first.value;
      waiting.delete(key);
      if (!LATEST_WINS.has(event.topic)) kept--;
      return event;
    },
  };
}
