/** Everything towards the broker: the broker itself where none is configured, our connection, and the outbox. */
import type { PresenceHealth } from "../../protocol/messages/presence.ts";
import { presenceTopic, retainedTopics } from "../../protocol/messages/topics.ts";
import type { Configuration } from "../configuration/schema.ts";
import { type BrokerAddress, clientIdOf, embeddedAddress } from "../mqtt/broker-address.ts";
import { startBus } from "../mqtt/bus.ts";
import type { Bus } from "../mqtt/bus-port.ts";
import type { BusStatus } from "../mqtt/bus-status.ts";
import type { EmbeddedBroker } from "../mqtt/embedded-broker.ts";
import type { Moment, RecorderFacts } from "../mqtt/envelope.ts";
import { LatestSets } from "../mqtt/latest-set.ts";
import { OutboxDrain } from "../mqtt/outbox-drain.ts";
import { presenceOf } from "../mqtt/presence.ts";
import { keepRetainedLedger } from "../mqtt/retained-ledger.ts";
import type { Store } from "../ports.ts";
import { instant, type Now } from "../station/exchange.ts";
import { momentOf } from "./clock.ts";
import type { ServiceLog } from "./log.ts";
import type { Publisher } from "./publisher.ts";
import { VERSION } from "./version.ts";

export interface AnnouncingOptions {
  readonly configuration: Configuration;
  readonly facts: RecorderFacts;
  readonly store: Store;
  readonly publisher: Publisher;
  readonly now: () => Now;
  readonly onStatus: (status: BusStatus) => void;
  /** How the recorder itself is. */
  readonly health: () => PresenceHealth;
  readonly log: ServiceLog;
}

export interface Announcing {
  readonly bus: Bus;
  /** Where the broker is, for people. */
  readonly url: string;
  /** There may be new rows in the outbox. */
  wake(): void;
  stop(): Promise<void>;
}

export type AnnouncingStart =
  | { readonly ok: true; readonly announcing: Announcing }
  | { readonly ok: false; readonly message: string };

export async function startAnnouncing(options: AnnouncingOptions): Promise<AnnouncingStart> {
  const { configuration, store, log, publisher } = options;
  const { broker: real, embedded_broker, site, recorder } = configuration;
  let embedded: EmbeddedBroker | null = null;
  let address: BrokerAddress;
  if (real === undefined) {
    // Loaded only where it is wanted: the start is the sooner over.
    const { startEmbeddedBroker } = await import("../mqtt/embedded-broker.ts");
    const started = await startEmbeddedBroker(embedded_broker.port);
    if (!started.ok) return { ok: false, message: started.problem };
    embedded = started.broker;
    address = embeddedAddress(embedded.port);
  } else {
    address = { protocol_version: 5, ...real };
  }

  const stations = configuration.station.map(({ id }) => id);
  const started_at = instant(options.now());
  const known = { ...options.facts, version: VERSION, store: store.store_id, stations, started_at };
  const date = (): Moment => momentOf(options.now());
  const bus = startBus({
    address,
    client_id: clientIdOf(publisher.root, site, recorder),
    presence_topic: presenceTopic(publisher.root, site, recorder),
    presence: (reason) => JSON.stringify(presenceOf(known, reason, date(), options.health())),
    now_ms: () => performance.now(),
    date,
    random: Math.random,
    onStatus: options.onStatus,
    // Of one reason: what a broker that comes and goes says of its coming is to be no more than of its going.
    log: (line, about) => log[about === "well" ? "info" : "warn"]({ reason: "broker" }, line),
  });
  const latest = new LatestSets(bus);
  const drain = new OutboxDrain({ store, bus, latest, random: Math.random, log: (line) => log.warn({}, line) });
  const stop = async (): Promise<void> => {
    const drained = drain.stop();
    await bus.stop();
    // The drain may wait for a store that hangs; the broker does not.
    await Promise.all([drained, embedded?.stop()]);
  };
  try {
    // The ledger first: what is retained must be in it before it is at the broker.
    const in_use = retainedTopics(publisher.root, site, recorder, stations);
    await keepRetainedLedger({ store, bus, in_use, log: (line) => log.warn({}, line) });
    const { any: erased_before } = await store.erasures();
    for (const id of stations) {
      const newest = await store.latest(id);
      if (newest !== null) latest.offer(publisher.topic(id, "set"), JSON.stringify(newest));
      // What stands at the broker may be of a set that was erased just before a former run ended.
      else if (erased_before) latest.put(publisher.topic(id, "set"), null);
    }
  } catch (error) {
    await stop();
    return { ok: false, message: (error as Error).message };
  }
  publisher.bus = bus;
  publisher.latest = latest;
  return { ok: true, announcing: { bus, url: address.url, wake: () => drain.wake(), stop } };
}
