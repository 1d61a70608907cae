/** A broker of our own with ears at it, numbered sets of two stations, and a recorder's side that brings them there. */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { connectAsync, type IClientOptions } from "mqtt";
import { expect } from "vitest";
import { stationTopic } from "../../protocol/messages/topics.ts";
import type { BusOptions } from "../../recorder/mqtt/bus.ts";
import { LatestSets } from "../../recorder/mqtt/latest-set.ts";
import { type DrainOptions, OutboxDrain } from "../../recorder/mqtt/outbox-drain.ts";
import { SAMPLES } from "../protocol/messages/samples.ts";
import { type BusUnderTest, busAt, later, MemoryOutbox, realAddress, Subscriber } from "../recorder/mqtt/loopback.ts";
import { Mosquitto, type MosquittoSetup } from "./mosquitto.ts";

export const STATIONS = ["leg-press", "row"] as const;
export type Station = (typeof STATIONS)[number];

export const topicOf = (station: string): string => stationTopic("tidemark", "hall", station, "set");

/** Set `set_seq`, whose number is in its id too; even ones are the first station's. */
export const setOf = (set_seq: number, note = ""): string =>
  JSON.stringify({
    ...SAMPLES.set,
    set_id: `019a9f3c-5a10-7c3e-8b7d-${String(set_seq).padStart(12, "0")}`,
    set_seq,
    note,
  });
export const stationOf = (set_seq: number): Station => (set_seq % 2 === 0 ? "leg-press" : "row");

export const from1To = (last: number): number[] => Array.from({ length: last }, (_, at) => at + 1);

export interface Recording extends Partial<BusOptions>, Partial<Pick<DrainOptions, "store" | "wait_ms">> {
  /** Where it believes the broker to be. */
  readonly port?: number;
  readonly boot?: string;
}

export interface Drained extends BusUnderTest {
  readonly drain: OutboxDrain;
}

const SETUP: MosquittoSetup = { users: { box: "open sesame" }, acl: "user box\ntopic readwrite #\n" };

export class Hall {
  readonly mosquitto = new Mosquitto();
  readonly outbox = new MemoryOutbox();
  ears!: Subscriber;
  password_file = "";
  readonly #kept = new Map<number, string>();

  async open(setup: Partial<MosquittoSetup> = {}): Promise<this> {
    later(() => this.mosquitto.remove());
    await this.mosquitto.start({ ...SETUP, ...setup });
    this.password_file = join(this.mosquitto.folder, "password");
    writeFileSync(this.password_file, "open sesame\n");
    this.ears = await this.listen();
    return this;
  }

  async listen(will?: IClientOptions["will"]): Promise<Subscriber> {
    // Comes back by itself, to a broker that was restarted.
    const client = await connectAsync(`mqtt://127.0.0.1:${this.mosquitto.port}`, {
      clientId: `ears-${Math.random()}`,
      username: "box",
      password: "open sesame",
      clean: false,
      reconnectPeriod: 20,
      ...(will && { will }),
    });
    later(() => client.end(true));
    client.on("error", () => {});
    const ears = new Subscriber(client);
    await client.subscribeAsync("tidemark/#", { qos: 1 });
    return ears;
  }

  keep(set_seq: number, note = ""): void {
    this.#kept.set(set_seq, setOf(set_seq, note));
    this.outbox.add(stationOf(set_seq), topicOf(stationOf(set_seq)), setOf(set_seq, note));
  }

  /** Another broker at the same port, which knows nothing. */
  async replace(setup: Partial<MosquittoSetup> = {}): Promise<void> {
    await this.mosquitto.restart({ ...SETUP, ...setup });
  }

  record(overrides: Recording = {}): Drained {
    const { port, store, wait_ms, ...others } = overrides;
    const address = {
      ...realAddress(port ?? this.mosquitto.port),
      username: "box",
      password_file: this.password_file,
    };
    const one = busAt(address, others);
    const drain = new OutboxDrain({
      store: store ?? this.outbox,
      bus: one.bus,
      latest: new LatestSets(one.bus),
      random: () => 0,
      log: (line) => one.lines.push(line),
      wait_ms: wait_ms ?? (() => 50),
    });
    later(() => drain.stop());
    return { ...one, drain };
  }

  /**
   * The numbers of all sets heard of `station`, each the very bytes that were kept. One that came twice came twice in a row:
   * what came after it had waited for the broker's yes.
   */
  heard(station: Station): number[] {
    const numbers = this.ears.payloads(topicOf(station)).map((payload) => {
      const { set_seq } = JSON.parse(payload) as { set_seq: number };
      expect(payload === this.#kept.get(set_seq)).toBe(true);
      return set_seq;
    });
    return numbers.filter((number, at) => number !== numbers[at - 1]);
  }
}
