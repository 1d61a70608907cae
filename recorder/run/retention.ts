/**
 * Sets go when they are as old as the house keeps them: once a day, and at the start, while the time of day is vouched for.
 *
 * A clock that jumps must not end the record. So age is not reckoned from the clock alone, but from the earlier of the clock and the
 * twentieth-newest set that is kept: a box that believes it is 2040 erases nothing before twenty sets bear that date, which a
 * trainer has seen by then. The price: the newest twenty sets stay, in a gym that trains no more as well. A set whose own
 * date nobody vouched for stays, too.
 */

import type { Erasure } from "../care-ports.ts";
import type { Store } from "../ports.ts";
import { instant, type Now } from "../station/exchange.ts";
import type { Gone } from "./erasing-pieces.ts";
import type { ServiceLog } from "./log.ts";

export interface RetentionPorts {
  readonly keep_sets_days: number;
  readonly store: Pick<Store, "newestSure" | "sets" | "beginErasure">;
  /** All pieces of it; null: not now. */
  readonly erase: (begin: () => Promise<Erasure>) => Promise<Gone | null>;
  readonly now: () => Now;
  readonly log: Pick<ServiceLog, "info" | "warn">;
}

const DAY_MS = 86_400_000;
const LOOK_EVERY_MS = 60_000;

/** Returns how to stop. */
export function startRetention(ports: RetentionPorts): () => void {
  let done_ms = Number.NEGATIVE_INFINITY;
  let looking = false;
  const look = async (): Promise<void> => {
    const { ms, clock_synced } = ports.now();
    if (looking || !clock_synced || ms - done_ms < DAY_MS) return;
    looking = true;
    try {
      if (await eraseOld(ports)) done_ms = ms;
    } catch (error) {
      ports.log.warn({ err: error }, "Old sets could not be erased; it is tried again.");
    } finally {
      looking = false;
    }
  };
  const timer = setInterval(() => void look(), LOOK_EVERY_MS);
  void look();
  return () => clearInterval(timer);
}

/** False: not now, ask again. */
export async function eraseOld({ keep_sets_days, store, erase, now, log }: RetentionPorts): Promise<boolean> {
  const at = now();
  if (!at.clock_synced) return false;
  const newest = await store.newestSure();
  if (newest === null) return true;
  const from_ms = Math.min(at.wall_ms, Date.parse(newest));
  const ended_before = new Date(from_ms - keep_sets_days * DAY_MS).toISOString();
  const { sets } = await store.sets({ to: ended_before, from: LONG_AGO, limit: 1 });
  if (sets.length === 0) return true;
  const wish = { trainee: null, ended_before, asked_at: instant(at), performed_by: null };
  const gone = await erase(async () => (await store.beginErasure(wish)).erasure);
  if (gone === null) return false;
  const { sets: erased, undated } = gone;
  if (erased > 0) log.info({ sets: erased, keep_sets_days }, "Sets older than the house keeps them were erased.");
  if (undated > 0) log.info({ sets: undated }, "Old sets stay whose date nobody vouched for.");
  return true;
}

const LONG_AGO = "1970-01-01T00:00:00.000Z";
