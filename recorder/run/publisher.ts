/** Carries messages out: to the broker by the rules of their topic, and to whoever watches here. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { STATION_TOPICS, type StationTopic, stationTopic } from "../../protocol/messages/topics.ts";
import type { ErasedSets } from "../care-ports.ts";
import type { WatchEvent } from "../control/ports.ts";
import type { Bus } from "../mqtt/bus-port.ts";
import { envelopeOf, type RecorderFacts } from "../mqtt/envelope.ts";
import type { LatestSets } from "../mqtt/latest-set.ts";
import type { Body, Now } from "../station/exchange.ts";
import { momentOf } from "./clock.ts";

export class Publisher {
  readonly root: string;
  readonly #facts: RecorderFacts;
  readonly #address: (station: string, topic: StationTopic) => string;
  readonly #watchers = new Set<{ station: string | undefined; listener: (event: WatchEvent) => void }>();
  /** Retained messages of before there was a bus: stations say them once, and only changes after. */
  readonly #early = new Map<string, string>();
  #bus: Bus | null = null;
  #latest: Pick<LatestSets, "erase" | "put"> | null = null;
  #wakeOutbox: () => void = () => {};

  constructor(facts: RecorderFacts, root: string, site: string) {
    this.#facts = facts;
    this.root = root;
    this.#address = (station, topic) => stationTopic(root, site, station, topic);
  }

  set bus(bus: Bus) {
    this.#bus = bus;
    for (const [address, payload] of this.#early) bus.publishState(address, payload);
    this.#early.clear();
  }

  /** Called where the outbox may have a new row. */
  set outbox(wake: () => void) {
    this.#wakeOutbox = wake;
    wake();
  }

  topic(station: string, topic: StationTopic): string {
    return this.#address(station, topic);
  }

  publish(station: string, topic: StationTopic, body: Body, now: Now): void {
    const message = this.message(body, now);
    const payload = JSON.stringify(message);
    const address = this.#address(station, topic);
    if (topic === "live") this.#bus?.publishLive(address, payload);
    else if (!STATION_TOPICS[topic].retained) this.#bus?.publishEvent(address, payload);
    else if (this.#bus === null) this.#early.set(address, payload);
    else this.#bus.publishState(address, payload);
    this.#tell({ station, topic, message });
  }

  /** A set the store has kept; the broker hears of it from the outbox. */
  kept(message: SetMessage): void {
    this.#tell({ station: message.station, topic: "set", message });
    this.#wakeOutbox();
  }

  /** Shows what is retained of sets at the broker; before there is one, the start sees to it. */
  set latest(latest: Pick<LatestSets, "erase" | "put">) {
    this.#latest = latest;
  }

  /** Sets the store has erased, with their tombstones; the broker hears of them from the outbox. */
  erased(sets: ErasedSets["sets"]): void {
    this.#latest?.erase(sets.map(({ set_id }) => set_id));
    for (const { station, message } of sets) {
      this.#tell({ station, topic: "set", message: JSON.parse(message) as object });
    }
    this.#wakeOutbox();
  }

  /** The newest set that is left at a station; null: none. */
  showLatest(station: string, set: SetMessage | null): void {
    this.#latest?.put(this.#address(station, "set"), set === null ? null : JSON.stringify(set));
  }

  message(body: Body, now: Now): Body {
    return { ...envelopeOf(this.#facts, momentOf(now)), ...body };
  }

  watch(station: string | undefined, listener: (event: WatchEvent) => void): () => void {
    const watcher = { station, listener };
    this.#watchers.add(watcher);
    return () => this.#watchers.delete(watcher);
  }

  #tell(event: WatchEvent): void {
    for (const { station, listener } of this.#watchers) {
      if (station === undefined || station === event.station) listener(event);
    }
  }
}
