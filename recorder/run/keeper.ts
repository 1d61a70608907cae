/**
 * Keeps what the stations want kept, and does not let go of a set the store could not take: it stays in memory, is tried
 * again, and the alarm `storage` says so meanwhile. Sets are kept in the order they ended.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { SetToKeep, Store } from "../ports.ts";
import type { StorageAlarm } from "./storage-alarm.ts";

export interface KeeperPorts {
  readonly store: Pick<Store, "keep">;
  /** A set is committed, its outbox row with it. */
  kept(message: SetMessage): void;
  readonly alarm: Pick<StorageAlarm, "failed" | "worked">;
}

const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 60_000;

export class Keeper {
  readonly #ports: KeeperPorts;
  readonly #waiting: SetToKeep[] = [];
  #running: Promise<void> | null = null;
  #wait_ms = FIRST_WAIT_MS;
  #wake: (() => void) | null = null;
  #stopping = false;

  constructor(ports: KeeperPorts) {
    this.#ports = ports;
  }

  keep(set: SetToKeep): void {
    this.#waiting.push(set);
    this.#running ??= this.#run();
  }

  /** Sets that are finished and not on the disk yet. */
  get unsaved(): number {
    return this.#waiting.length;
  }

  /** One more try for what is left; resolves when nothing is, or when the store refuses it. */
  async stop(): Promise<void> {
    this.#stopping = true;
    this.#wake?.();
    await this.#running;
  }

  async #run(): Promise<void> {
    for (let set = this.#waiting[0]; set !== undefined; set = this.#waiting[0]) {
      let message: SetMessage;
      try {
        message = await this.#ports.store.keep(set);
      } catch (error) {
        this.#ports.alarm.failed(`${this.#waiting.length} finished sets wait in memory: ${(error as Error).message}`);
        if (this.#stopping) break;
        await this.#pause();
        continue;
      }
      this.#waiting.shift();
      this.#ports.alarm.worked();
      this.#wait_ms = FIRST_WAIT_MS;
      this.#ports.kept(message);
    }
    this.#running = null;
  }

  #pause(): Promise<void> {
    const wait_ms = this.#wait_ms;
    this.#wait_ms = Math.min(LONGEST_WAIT_MS, wait_ms * 2);
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, wait_ms);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }
}
