/**
 * Keeps the sets the stations want kept, and does not let go of one the store could not take: it stays in memory, is tried
 * again, and the alarm `storage` says so meanwhile. Sets of a station are kept in the order they ended; a station whose
 * set cannot be kept holds up no other. A set that no store could ever take is put aside, and said; so is one that the
 * store still does not take when the recorder goes, for the next start to keep.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { SetToKeep, Store } from "../ports.ts";
import { isUnstorable, needsNewStart } from "../store/failure.ts";
import type { ServiceLog } from "./log.ts";
import { Patience } from "./patience.ts";
import type { StorageAlarm } from "./storage-alarm.ts";

export interface KeeperPorts {
  readonly store: Pick<Store, "keep">;
  /** A set is committed, its outbox row with it. */
  kept(message: SetMessage): void;
  /** Writes a set that cannot be kept where a person and the next start may find it, and says where. */
  putAside(set: SetToKeep): Promise<string>;
  /** Trying again is of no use before the store is opened anew; one sentence. */
  unusable(why: string): void;
  readonly alarm: Pick<StorageAlarm, "failed" | "worked">;
  readonly log: Pick<ServiceLog, "error">;
}

interface Lane {
  readonly waiting: SetToKeep[];
  readonly patience: Patience;
  running: Promise<void> | null;
}

export class Keeper {
  readonly #ports: KeeperPorts;
  readonly #lanes = new Map<string, Lane>();
  readonly #awaited = new Map<string, readonly (() => void)[]>();
  #stopped = false;

  constructor(ports: KeeperPorts) {
    this.#ports = ports;
  }

  keep(set: SetToKeep): void {
    const lane = this.#laneOf(set.message.station);
    lane.waiting.push(set);
    lane.running ??= this.#run(lane);
  }

  /** Sets that are finished and not on the disk yet. */
  get unsaved(): number {
    return [...this.#lanes.values()].reduce((sum, { waiting }) => sum + waiting.length, 0);
  }

  /** Those sets. */
  get waiting(): readonly SetToKeep[] {
    return [...this.#lanes.values()].flatMap(({ waiting }) => waiting);
  }

  /** Resolves when this set waits here no longer, because it is kept or put aside; at once where it does not wait. */
  async settled(set_id: string): Promise<void> {
    const waits = [...this.#lanes.values()].some(({ waiting }) =>
      waiting.some(({ message }) => message.set_id === set_id),
    );
    if (!waits) return;
    await new Promise<void>((resolve) => {
      this.#awaited.set(set_id, [...(this.#awaited.get(set_id) ?? []), resolve]);
    });
  }

  /** One more try for what is left; resolves when nothing is, because it is kept or put aside. */
  async stop(): Promise<void> {
    this.#stopped = true;
    for (const { patience } of this.#lanes.values()) patience.stop();
    await Promise.all([...this.#lanes.values()].map(({ running }) => running));
  }

  #laneOf(station: string): Lane {
    const known = this.#lanes.get(station);
    if (known !== undefined) return known;
    const lane: Lane = { waiting: [], patience: new Patience(), running: null };
    if (this.#stopped) lane.patience.stop();
    this.#lanes.set(station, lane);
    return lane;
  }

  async #run(lane: Lane): Promise<void> {
    const { store, alarm } = this.#ports;
    const { waiting, patience } = lane;
    for (let set = waiting[0]; set !== undefined; set = waiting[0]) {
      let message: SetMessage | null = null;
      try {
        message = await store.keep(set);
      } catch (error) {
        if (!isUnstorable(error)) {
          alarm.failed(`${this.#waitInMemory()}: ${(error as Error).message}`);
          if (needsNewStart(error)) this.#ports.unusable((error as Error).message);
          if (patience.stopped) {
            await this.#leave(waiting, error);
            break;
          }
          await patience.wait();
          continue;
        }
        await this.#putAside(set, error, "A set can never be kept in the store");
      }
      waiting.shift();
      patience.renew();
      alarm.worked();
      if (message !== null) this.#ports.kept(message);
      this.#left(set);
    }
    lane.running = null;
  }

  #waitInMemory(): string {
    const { unsaved } = this;
    return unsaved === 1 ? "1 finished set waits in memory" : `${unsaved} finished sets wait in memory`;
  }

  /** All of them, whatever became of the first: there is no later. */
  async #leave(waiting: SetToKeep[], error: unknown): Promise<void> {
    for (const set of waiting.splice(0)) {
      await this.#putAside(set, error, "A set could not be kept before the recorder went");
      this.#left(set);
    }
  }

  #left({ message: { set_id } }: SetToKeep): void {
    for (const tell of this.#awaited.get(set_id) ?? []) tell();
    this.#awaited.delete(set_id);
  }

  /** A log is read by many: it says which set, and not whose. */
  async #putAside(set: SetToKeep, error: unknown, what: string): Promise<void> {
    const { message } = set;
    const { station, set_id } = message;
    const { log } = this.#ports;
    try {
      const path = await this.#ports.putAside(set);
      log.error({ err: error, station, set_id }, `${what}; it is in ${path} instead.`);
    } catch (why) {
      // The one case in which what a set came to goes into the log, though it is about a person: it is nowhere else.
      log.error({ err: error, station, set_id, set: message }, `${what}, ${lost(why as Error)}`);
    }
  }
}

const lost = ({ message }: Error): string =>
  `nor put aside (${message}): its readings since the last checkpoint are lost, and what it came to is in this line alone.`;
