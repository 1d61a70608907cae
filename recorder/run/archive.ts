/** Everything that keeps, opened together: the store's file, the sets and writings that wait for it, and their dates. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Store } from "../ports.ts";
import type { Now } from "../station/exchange.ts";
import { openStore } from "../store/store.ts";
import { BackDating } from "./back-dating.ts";
import { freeBytes } from "./disk.ts";
import { Keeper } from "./keeper.ts";
import { inRoom, type ServiceLog } from "./log.ts";
import type { Publisher } from "./publisher.ts";
import { type Aside, forgetAside, putAside, setsAside } from "./put-aside.ts";
import { giveUpSpareRoom, takeSpareRoom } from "./spare-room.ts";
import { StandingWrites } from "./standing-writes.ts";
import { StorageAlarm } from "./storage-alarm.ts";
import { WriteTimes } from "./timed-store.ts";
import { volatileDisk } from "./volatile-disk.ts";

export interface ArchiveOptions {
  readonly path: string;
  readonly simulated: boolean;
  /** Prepares a new store before anything reads it. */
  readonly prepare: ((store: Store) => Promise<void>) | undefined;
  readonly publisher: Pick<Publisher, "topic" | "kept">;
  readonly now: () => Now;
  /** A kept set has another revision. */
  readonly onRevised: (set: SetMessage) => void;
  /** What storage cannot do, in one sentence; null: it can again. */
  readonly onTrouble: (trouble: string | null) => void;
  /** The storage thread is gone, and why. */
  readonly onLost: (why: string) => void;
  readonly log: ServiceLog;
}

export interface Archive {
  readonly store: Store;
  readonly times: WriteTimes;
  /** For sets that have just ended. */
  readonly keeper: Pick<Keeper, "keep" | "unsaved" | "waiting" | "settled">;
  /** For sets of an earlier run. When they ended by this run's clock nobody knows, so their dates stay as they are. */
  readonly earlier: Pick<Keeper, "keep">;
  readonly writes: StandingWrites;
  readonly alarm: StorageAlarm;
  /** Why the file needs a new start; null: it does not. */
  unusable(): string | null;
  /** To be called now and then: dates what was kept before the clock was synced. */
  look(): void;
  /** What earlier runs put aside. */
  aside(): Promise<Aside>;
  /** One more try for what waits. */
  finish(): Promise<void>;
  close(): Promise<void>;
}

/** Rejects with one sentence. */
export async function openArchive(options: ArchiveOptions): Promise<Archive> {
  const { path, publisher, now, log } = options;
  const file = await openStore({ path, onLost: ({ message }) => options.onLost(message) });
  try {
    await sayWhatStands(file, options);
    await options.prepare?.(file);
  } catch (error) {
    await file.close();
    throw error;
  }
  // In its own time: nobody waits for it.
  const spare = freeBytes(path).then((free_bytes) => takeSpareRoom(path, free_bytes));
  const times = new WriteTimes(() => now().ms);
  const store = times.of(file);
  let unusable: string | null = null;
  const alarm: StorageAlarm = new StorageAlarm({
    tell: options.onTrouble,
    waiting: () => keeper.unsaved + writes.unwritten,
  });
  const writes = new StandingWrites({ alarm, log });
  const topic = (station: string): string => publisher.topic(station, "set");
  const dates = new BackDating({ store, writes, topic, revised: options.onRevised, log });
  const keeper: Keeper = new Keeper({
    store,
    kept(message) {
      const { station, set_id, set_seq } = message;
      log.info({ station, set_id, set_seq }, "A set is kept.");
      publisher.kept(message);
      dates.kept(message);
      // Left behind, it would be tried again at the next start, and change nothing.
      void forgetAside(path, message.set_id).catch(() => {});
    },
    async putAside(set) {
      try {
        return await putAside(path, set);
      } catch (error) {
        if (!(await giveUpSpareRoom(path))) throw error;
        return putAside(path, set);
      }
    },
    unusable(why) {
      unusable ??= why;
    },
    alarm,
    log,
  });
  return {
    store,
    times,
    writes,
    alarm,
    keeper: {
      keep(set) {
        dates.ended(set.message, now());
        keeper.keep(set);
      },
      get unsaved() {
        return keeper.unsaved;
      },
      get waiting() {
        return keeper.waiting;
      },
      settled: (set_id) => keeper.settled(set_id),
    },
    earlier: { keep: (set) => keeper.keep(set) },
    unusable: () => unusable,
    look: () => dates.look(now()),
    aside: () => setsAside(path),
    async finish() {
      await Promise.all([keeper.stop(), writes.stop()]);
    },
    async close() {
      await Promise.all([spare, file.close()]);
    },
  };
}

async function sayWhatStands(file: Store, { path, simulated, log }: ArchiveOptions): Promise<void> {
  const store_log = inRoom(log, "store");
  if (file.opened_with !== null) store_log.warn({}, file.opened_with);
  // The simulated gym's is thrown away anyhow.
  const fleeting = simulated ? null : await volatileDisk(path);
  if (fleeting !== null) store_log.warn({}, fleeting);
}
