/**
 * Which set a station's retained `latest-set` shows: the newest finished one, in its newest revision. An outbox that
 * catches up sends old sets after newer ones are shown, and a revision may concern an older set; neither may replace
 * the newest. The first revision of a newer set has a higher `set_seq`, whatever the clock did.
 */
import { z } from "zod";
import { latestSetBeside } from "../../protocol/messages/topics.ts";
import type { Bus } from "./bus-port.ts";

const shownSchema = z.object({ set_id: z.string(), set_seq: z.number(), revision: z.number() });
type Shown = z.infer<typeof shownSchema>;

export class LatestSets {
  readonly #bus: Pick<Bus, "publishState">;
  readonly #shown = new Map<string, Shown>();
  /** Of this run: a row that was under way when its set was erased must not bring it back. */
  readonly #erased = new Set<string>();

  constructor(bus: Pick<Bus, "publishState">) {
    this.#bus = bus;
  }

  /** A `set` payload that the store keeps; published beside its topic, byte-equal, if it is the newest. */
  offer(topic: string, payload: string): void {
    const beside = latestSetBeside(topic);
    const read = shownSchema.safeParse(parsed(payload));
    // An erasure is no set; what takes its place is the store's to say.
    if (beside === null || !read.success || this.#erased.has(read.data.set_id)) return;
    const shown = this.#shown.get(beside);
    if (shown !== undefined && !replaces(read.data, shown)) return;
    this.#shown.set(beside, read.data);
    this.#bus.publishState(beside, payload);
  }

  /** These sets are shown nowhere from now on. What takes their place is `put`. */
  erase(set_ids: readonly string[]): void {
    for (const set_id of set_ids) this.#erased.add(set_id);
  }

  /** After an erasure, the newest set the store has left of a station, as a `set` payload; null: none, and nothing stands there. */
  put(topic: string, payload: string | null): void {
    const beside = latestSetBeside(topic);
    if (beside === null) return;
    const shown = this.#shown.get(beside);
    const stands = shown !== undefined && !this.#erased.has(shown.set_id);
    const read = payload === null ? null : shownSchema.safeParse(parsed(payload));
    if (payload === null || read?.success !== true) {
      if (stands) return;
      this.#shown.delete(beside);
      this.#bus.publishState(beside, "");
      return;
    }
    // Another was kept and shown while the store was asked.
    if (this.#erased.has(read.data.set_id) || (stands && shown.set_seq >= read.data.set_seq)) return;
    this.#shown.set(beside, read.data);
    this.#bus.publishState(beside, payload);
  }
}

/** null for what is no JSON: a damaged row must not end the recorder. */
function parsed(payload: string): unknown {
  try {
    return JSON.parse(payload);
  } catch {
    return null;
  }
}

function replaces(offered: Shown, shown: Shown): boolean {
  if (offered.set_id === shown.set_id) return offered.revision > shown.revision;
  return offered.revision === 1 && offered.set_seq > shown.set_seq;
}
