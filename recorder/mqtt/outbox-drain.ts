/**
 * Brings the store's outbox to the broker: at least once, in order per station. A row goes only when the broker has said
 * yes. A refused row holds up its own station and nobody else's; it is tried again, less and less often, for as long as
 * it takes. Without an answer nothing is tried on the same connection: the next connect wakes the drain. A row that no
 * connection outlives is set aside, so that it too holds up nobody else.
 */
import type { OutboxRow, Store } from "../ports.ts";
import { BACK_OFF, type WaitLimits, wait_ms } from "./back-off.ts";
import type { Bus } from "./bus-port.ts";
import type { LatestSets } from "./latest-set.ts";
import { Suspects } from "./suspects.ts";

/** Rows of each station fetched at once; a set is some tens of kilobytes. */
const ROWS_AT_ONCE = 20;

/** Each try of a row that is set aside costs everybody the connection. */
const ASIDE: WaitLimits = { first_wait_ms: 60_000, longest_wait_ms: 600_000 };

export interface DrainOptions {
  readonly store: Pick<Store, "outbox" | "sent">;
  readonly bus: Pick<Bus, "publishKept" | "afterAnswer" | "setAside">;
  readonly latest: Pick<LatestSets, "offer">;
  /** 0 up to 1. */
  readonly random: () => number;
  readonly log: (line: string) => void;
  /** Wait after `failures` failures in a row, ms. */
  readonly wait_ms?: typeof wait_ms;
}

interface Held {
  readonly failures: number;
  /** Absent while a new try is under way. */
  readonly timer?: NodeJS.Timeout;
}

export class OutboxDrain {
  readonly #options: DrainOptions;
  readonly #lanes = new Map<string, Promise<void>>();
  readonly #held = new Map<string, Held>();
  readonly #suspects = new Suspects();
  /** A suspect is under way, and nothing is to be beside it. */
  #alone = false;
  #fetching: Promise<void> | null = null;
  #again = false;
  /** The broker answers, as far as we know: what is lost now may have been lost by the row that was under way. */
  #up = false;
  #storeFailures = 0;
  #storeTimer: NodeJS.Timeout | undefined;
  #stopped = false;

  constructor(options: DrainOptions) {
    this.#options = options;
    options.bus.afterAnswer(() => {
      this.#up = true;
      // Another connection may be another broker, or a mended one; not so where the row itself made it another.
      const culprit = this.#suspects.takeCulprit();
      for (const [station, { timer }] of this.#held) {
        if (station === culprit) continue;
        clearTimeout(timer);
        this.#held.delete(station);
      }
      this.wake();
    });
  }

  /** There are new rows, or there may be. */
  wake(): void {
    if (this.#stopped || !this.#up) return;
    if (this.#fetching !== null) {
      this.#again = true;
      return;
    }
    this.#fetching = this.#fetch().finally(() => {
      this.#fetching = null;
      if (this.#again) {
        this.#again = false;
        this.wake();
      }
    });
  }

  /** No further row is begun; settles when those under way are answered, at the latest once the bus has stopped. */
  async stop(): Promise<void> {
    this.#stopped = true;
    clearTimeout(this.#storeTimer);
    for (const { timer } of this.#held.values()) clearTimeout(timer);
    await this.#fetching;
    await Promise.all(this.#lanes.values());
  }

  async #fetch(): Promise<void> {
    // A lane that ends meanwhile wakes us again; the rows fetched now may be those it has just sent.
    const busy = new Set(this.#lanes.keys());
    let rows: readonly OutboxRow[];
    try {
      rows = await this.#options.store.outbox(ROWS_AT_ONCE);
    } catch (error) {
      this.#storeFailed(error);
      return;
    }
    if (rows.length === 0) this.#storeFailures = 0;
    const suspected: (() => void)[] = [];
    for (const [station, own] of byStation(rows)) {
      if (this.#stopped || this.#alone) return;
      if (busy.has(station) || this.#held.get(station)?.timer !== undefined) continue;
      if (this.#suspects.has(station)) suspected.push(() => this.#open(station, own.slice(0, 1), true));
      else this.#open(station, own, false);
    }
    if (this.#lanes.size === 0) suspected[0]?.();
  }

  #open(station: string, rows: readonly OutboxRow[], alone: boolean): void {
    this.#alone = alone;
    const lane = this.#send(station, rows).then((more) => {
      this.#lanes.delete(station);
      this.#alone = false;
      if (more) this.wake();
    });
    this.#lanes.set(station, lane);
  }

  /** Sends in order for as long as all goes well; says whether it makes sense to look for more. */
  async #send(station: string, rows: readonly OutboxRow[]): Promise<boolean> {
    const { store, bus, latest } = this.#options;
    for (const row of rows) {
      if (this.#stopped) return false;
      const answer = await bus.publishKept(row.topic, row.payload);
      if (!answer.ok && answer.code === null) {
        this.#up = false;
        if (answer.sent) this.#lost(station, row);
        return false;
      }
      this.#suspects.answered(station);
      if (!answer.ok) {
        this.#hold(station, (this.#held.get(station)?.failures ?? 0) + 1);
        return true;
      }
      this.#held.delete(station);
      try {
        await store.sent(row.row);
      } catch (error) {
        this.#storeFailed(error);
        return false;
      }
      this.#storeFailures = 0;
      latest.offer(row.topic, row.payload);
    }
    return true;
  }

  #lost(station: string, row: OutboxRow): void {
    if (!this.#suspects.lost(station)) return;
    this.#options.bus.setAside(row.topic, Buffer.byteLength(row.payload));
    const failures = this.#suspects.timesAlone(station);
    this.#hold(station, failures, ASIDE);
  }

  #hold(station: string, failures: number, limits: WaitLimits = BACK_OFF): void {
    if (this.#stopped) return;
    const timer = setTimeout(
      () => {
        this.#held.set(station, { failures });
        this.wake();
      },
      this.#wait(failures, limits),
    );
    this.#held.set(station, { failures, timer });
  }

  /** The store raises its own alarm; here it is only tried again. */
  #storeFailed(error: unknown): void {
    this.#storeFailures += 1;
    if (this.#storeFailures === 1) this.#options.log(`The outbox cannot be read: ${(error as Error).message}`);
    if (this.#stopped) return;
    clearTimeout(this.#storeTimer);
    this.#storeTimer = setTimeout(() => this.wake(), this.#wait(this.#storeFailures, BACK_OFF));
  }

  #wait(failures: number, limits: WaitLimits): number {
    return (this.#options.wait_ms ?? wait_ms)(failures, this.#options.random(), limits);
  }
}

function byStation(rows: readonly OutboxRow[]): Map<string, OutboxRow[]> {
  const stations = new Map<string, OutboxRow[]>();
  for (const row of rows) {
    const own = stations.get(row.station);
    if (own === undefined) stations.set(row.station, [row]);
    else own.push(row);
  }
  return stations;
}
