/**
 * Sets that were kept before anybody vouched for the clock get their right dates once somebody does. A small computer
 * without a battery starts in the past; a set then bears a date of that past, and "today" would be fooled by it. When the
 * clock is synced, a set that ended so long ago on the host's monotonic clock ended at that moment of the right one,
 * whatever the wall clock showed then. Sets of an earlier run of this program cannot be dated so, and keep what they have.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Store } from "../ports.ts";
import { instant, type Now } from "../station/exchange.ts";
import { later } from "./clock.ts";
import type { ServiceLog } from "./log.ts";
import type { StandingWrites } from "./standing-writes.ts";

export interface BackDatingPorts {
  readonly store: Pick<Store, "revise">;
  readonly writes: Pick<StandingWrites, "write">;
  topic(station: string): string;
  /** A set has its right date, and the outbox a row that says so. */
  revised(set: SetMessage): void;
  readonly log: Pick<ServiceLog, "info">;
}

/** A box that never learns the time must not remember every set of its life. */
const REMEMBERED = 2000;

interface Undated extends Pick<SetMessage, "set_id" | "station" | "at" | "started_at"> {
  /** Host's monotonic clock when it ended. */
  readonly ended_ms: number;
  readonly is_kept: boolean;
}

export class BackDating {
  readonly #ports: BackDatingPorts;
  readonly #undated = new Map<string, Undated>();

  constructor(ports: BackDatingPorts) {
    this.#ports = ports;
  }

  /** A set has just ended. */
  ended(message: SetMessage, now: Now): void {
    if (message.clock_synced) return;
    const { set_id, station, at, started_at } = message;
    this.#undated.set(set_id, { set_id, station, at, started_at, ended_ms: now.ms, is_kept: false });
    const [oldest] = this.#undated.keys();
    if (this.#undated.size > REMEMBERED && oldest !== undefined) this.#undated.delete(oldest);
  }

  /** The store has it: now it can be revised. */
  kept({ set_id }: SetMessage): void {
    const undated = this.#undated.get(set_id);
    if (undated !== undefined) this.#undated.set(set_id, { ...undated, is_kept: true });
  }

  /** To be called now and then: cheap while there is nothing to do. */
  look(now: Now): void {
    if (!now.clock_synced || this.#undated.size === 0) return;
    const ready = [...this.#undated.values()].filter(({ is_kept }) => is_kept);
    if (ready.length === 0) return;
    const [first] = ready;
    if (first !== undefined) this.#say(ready.length, shiftOf_ms(first, now));
    for (const undated of ready) {
      this.#undated.delete(undated.set_id);
      this.#revise(undated, now);
    }
  }

  #say(sets: number, shift_ms: number): void {
    const these = sets === 1 ? "1 set is" : `${sets} sets are`;
    const far = `${Math.round(Math.abs(shift_ms) / 1000)} s ${shift_ms < 0 ? "earlier" : "later"}`;
    this.#ports.log.info({ sets, shift_ms }, `The clock is synced: ${these} given the right date, ${far}.`);
  }

  #revise(undated: Undated, now: Now): void {
    const { store, writes, topic, revised } = this.#ports;
    const { set_id, station, at, started_at } = undated;
    const shift_ms = shiftOf_ms(undated, now);
    const revising = {
      set_id,
      changes: { at: later(at, shift_ms), started_at: later(started_at, shift_ms), clock_synced: true },
      performed_by: null,
      revised_at: instant(now),
      topic: topic(station),
    };
    writes.write(`The date of set ${set_id}`, async () => {
      const set = await store.revise(revising);
      // Erased meanwhile.
      if (set !== null) revised(set);
    });
  }
}

/** From the date it bears to the right one, whole ms. */
function shiftOf_ms({ at, ended_ms }: Undated, now: Now): number {
  return Math.round(now.wall_ms - (now.ms - ended_ms) - Date.parse(at));
}
