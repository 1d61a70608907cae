/**
 * The retained topics we have ever set, kept in the store: a broker remembers for ever, so a station that has gone from
 * the configuration would stand in the gym's displays for ever. All topics in use are written down before the first of
 * them is published; that way a crash leaves nothing behind that nobody remembers.
 */
import type { Store } from "../ports.ts";
import type { Bus } from "./bus-port.ts";

export interface LedgerOptions {
  readonly store: Pick<Store, "rememberRetained" | "forgetRetained" | "retained">;
  readonly bus: Pick<Bus, "clearRetained" | "afterAnswer">;
  /** Every retained topic of today's configuration. */
  readonly in_use: readonly string[];
  readonly log: (line: string) => void;
}

/**
 * Writes down what is in use and clears the rest after each connect, until the broker has said yes. Await it before the
 * first retained publish.
 */
export async function keepRetainedLedger({ store, bus, in_use, log }: LedgerOptions): Promise<void> {
  const known = new Set(await store.retained());
  const used = new Set(in_use);
  for (const topic of used) {
    if (!known.has(topic)) await store.rememberRetained(topic);
  }
  const stale = new Set([...known].filter((topic) => !used.has(topic)));

  const clear = async (topic: string): Promise<void> => {
    const answer = await bus.clearRetained(topic);
    if (!answer.ok) {
      if (answer.code !== null)
        log(`The broker does not let us clear ${topic}, which nothing here publishes any more.`);
      return;
    }
    stale.delete(topic);
    try {
      await store.forgetRetained(topic);
    } catch (error) {
      // It is cleared once more after the next start, which does no harm.
      log(`The cleared topic ${topic} could not be struck off: ${(error as Error).message}`);
    }
  };
  bus.afterAnswer(() => {
    for (const topic of stale) void clear(topic);
  });
}
