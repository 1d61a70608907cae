/** What the MQTT tests stand on: a bus with a fast clock, a subscriber that keeps what it hears, an outbox in memory. */
import { connectAsync, type MqttClient } from "mqtt";
import { expect, vi } from "vitest";
import { presenceTopic } from "../../../protocol/messages/topics.ts";
import { type BrokerAddress, clientIdOf, embeddedAddress } from "../../../recorder/mqtt/broker-address.ts";
import { type BusOptions, startBus } from "../../../recorder/mqtt/bus.ts";
import type { Bus } from "../../../recorder/mqtt/bus-port.ts";
import type { BusStatus } from "../../../recorder/mqtt/bus-status.ts";
import { startEmbeddedBroker } from "../../../recorder/mqtt/embedded-broker.ts";
import { presenceOf } from "../../../recorder/mqtt/presence.ts";
import type { OutboxRow } from "../../../recorder/ports.ts";
import { messageOfTopic, validateMessage } from "../../protocol/messages/validate.ts";

export const PRESENCE = presenceTopic("tidemark", "hall", "box");

const FACTS = {
  recorder: "box",
  boot: "7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11",
  simulated: true,
  version: "0.1.0",
  store: "c7b0d5a4-1f3e-4b0a-9a55-3c7f8e2d1b90",
  stations: ["leg-press"],
  started_at: "2026-11-20T06:00:12.000Z",
};

/** After `started_at`, as it is of every recorder. */
const NOW_MS = Date.UTC(2026, 10, 20, 9, 31, 7);

const cleanups: (() => unknown)[] = [];

/** Ends, in reverse order, all that the test opened. */
export async function endAll(): Promise<void> {
  for (const end of cleanups.splice(0).reverse()) await end();
}

/** To be ended after the test, in reverse order. */
export function later(end: () => unknown): void {
  cleanups.push(end);
}

export async function embedded(port = 0): Promise<{ port: number; stop(): Promise<void> }> {
  const start = await startEmbeddedBroker(port);
  if (!start.ok) throw new Error(start.problem);
  later(() => start.broker.stop());
  return start.broker;
}

export interface BusUnderTest {
  readonly bus: Bus;
  readonly statuses: BusStatus[];
  readonly lines: string[];
  last(): BusStatus | undefined;
}

export const realAddress = (port: number): BrokerAddress => ({ url: `mqtt://127.0.0.1:${port}`, protocol_version: 5 });

/** `boot` tells one recorder from another of the same name. */
interface Overrides extends Partial<BusOptions> {
  readonly boot?: string;
}

/** A bus that waits a hundredth of the real time before it tries again. */
export function busAt(address: BrokerAddress | number, overrides: Overrides = {}): BusUnderTest {
  const statuses: BusStatus[] = [];
  const lines: string[] = [];
  let said = 0;
  const bus = startBus({
    address: typeof address === "number" ? embeddedAddress(address) : address,
    client_id: clientIdOf("tidemark", "hall", "box"),
    presence_topic: PRESENCE,
    presence: (reason) => {
      said += 1;
      const facts = { ...FACTS, boot: overrides.boot ?? FACTS.boot };
      const now = { at_ms: NOW_MS + said, clock_synced: true };
      return JSON.stringify(presenceOf(facts, reason, now, null));
    },
    now_ms: () => performance.now(),
    date: () => ({ at_ms: Date.now(), clock_synced: true }),
    random: () => 0,
    onStatus: (status) => statuses.push(status),
    log: (line) => lines.push(line),
    ...overrides,
    timing: { first_wait_ms: 10, longest_wait_ms: 600, steady_ms: 300, ...overrides.timing },
  });
  later(() => bus.stop());
  return { bus, statuses, lines, last: () => statuses.at(-1) };
}

export interface Heard {
  readonly topic: string;
  readonly payload: string;
  readonly retain: boolean;
}

export class Subscriber {
  readonly heard: Heard[] = [];
  readonly client: MqttClient;

  constructor(client: MqttClient) {
    this.client = client;
    client.on("message", (topic, payload, { retain }) => {
      const text = payload.toString("utf8");
      this.heard.push({ topic, payload: text, retain });
      // Whatever travels under a published name has to be what was published; tests use other names for other bytes.
      const message = messageOfTopic(topic);
      if (message !== null && text !== "") expect(validateMessage(message, text)).toEqual([]);
    });
  }

  payloads(topic: string): string[] {
    return this.heard.filter((message) => message.topic === topic).map(({ payload }) => payload);
  }

  newest(topic: string): string | undefined {
    return this.payloads(topic).at(-1);
  }
}

export async function subscriber(port: number, filter = "#"): Promise<Subscriber> {
  const client = await connectAsync(`mqtt://127.0.0.1:${port}`, { reconnectPeriod: 0 });
  later(() => client.end(true));
  const listening = new Subscriber(client);
  await client.subscribeAsync(filter, { qos: 1 });
  return listening;
}

/** Until `check` stops throwing; by events of the loop, not by a fixed sleep. */
export const until = (check: () => void): Promise<void> => vi.waitFor(check, { timeout: 8000, interval: 5 });

/** The outbox of a store, in memory: oldest first, at most `limit` of each station. */
export class MemoryOutbox {
  rows: OutboxRow[] = [];
  readonly removed: number[] = [];
  #next = 1;

  add(station: string, topic: string, payload: string): void {
    this.rows.push({ row: this.#next, station, topic, payload });
    this.#next += 1;
  }

  async outbox(limit: number): Promise<readonly OutboxRow[]> {
    const counts = new Map<string, number>();
    return this.rows.filter(({ station }) => {
      const count = (counts.get(station) ?? 0) + 1;
      counts.set(station, count);
      return count <= limit;
    });
  }

  async sent(row: number): Promise<void> {
    this.rows = this.rows.filter((kept) => kept.row !== row);
    this.removed.push(row);
  }
}
