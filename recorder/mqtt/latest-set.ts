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

  constructor(bus: Pick<Bus, "publishState">) {
    this.#bus = bus;
  }

  /** A `set` payload that the store keeps; published beside its topic, byte-equal, if it is the newest. */
  offer(topic: string, payload: string): void {
    const beside = latestSetBeside(topic);
    const read = shownSchema.safeParse(parsed(payload));
    // An erasure is no set; what takes its place is the store's to say.
    if (beside === null || !read.success) return;
    const shown = this.#shown.get(beside);
    if (shown !== undefined && !replaces(read.data, shown)) return;
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
