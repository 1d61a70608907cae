/**
 * Writes what a restart must find as it is: a station's zero, its latch, that a set came to nothing. What cannot be
 * written is written again until it is, of each thing only the newest, and the alarm `storage` stands meanwhile.
 */
import { isUnstorable } from "../store/failure.ts";
import type { ServiceLog } from "./log.ts";
import { Patience } from "./patience.ts";
import type { StorageAlarm } from "./storage-alarm.ts";

type Writing = () => Promise<unknown>;

interface Lane {
  newest: Writing;
  readonly patience: Patience;
  running: Promise<void>;
}

export interface StandingWritesPorts {
  readonly alarm: Pick<StorageAlarm, "failed" | "worked">;
  readonly log: Pick<ServiceLog, "error">;
}

export class StandingWrites {
  readonly #ports: StandingWritesPorts;
  readonly #lanes = new Map<string, Lane>();
  #stopped = false;

  constructor(ports: StandingWritesPorts) {
    this.#ports = ports;
  }

  /** `what` names one thing of one station, as the beginning of a sentence; its newest writing takes the place of an older. */
  write(what: string, writing: Writing): void {
    const known = this.#lanes.get(what);
    if (known !== undefined) {
      known.newest = writing;
      known.patience.hurry();
      return;
    }
    const patience = new Patience();
    if (this.#stopped) patience.stop();
    const lane: Lane = { newest: writing, patience, running: Promise.resolve() };
    this.#lanes.set(what, lane);
    lane.running = this.#run(what, lane);
  }

  /** Things that are not on the disk as they are. */
  get unwritten(): number {
    return this.#lanes.size;
  }

  /** One more try for what is left. */
  async stop(): Promise<void> {
    this.#stopped = true;
    const lanes = [...this.#lanes.values()];
    for (const { patience } of lanes) patience.stop();
    await Promise.all(lanes.map(({ running }) => running));
  }

  async #run(what: string, lane: Lane): Promise<void> {
    const { alarm, log } = this.#ports;
    let said = false;
    let done: Writing | null = null;
    while (done !== lane.newest) {
      const writing: Writing = lane.newest;
      try {
        await writing();
        done = writing;
      } catch (error) {
        if (!said) log.error({ err: error }, `${what} could not be kept`);
        said = true;
        if (isUnstorable(error)) {
          done = writing;
          continue;
        }
        alarm.failed(`${what} could not be kept: ${(error as Error).message}`);
        if (lane.patience.stopped) return;
        await lane.patience.wait();
      }
    }
    this.#lanes.delete(what);
    alarm.worked();
  }
}
