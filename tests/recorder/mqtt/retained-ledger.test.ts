import { afterEach, expect, test } from "vitest";
import { retainedTopics, stationTopic } from "../../../protocol/messages/topics.ts";
import { keepRetainedLedger } from "../../../recorder/mqtt/retained-ledger.ts";
import { SAMPLES } from "../../protocol/messages/samples.ts";
import { FakeBroker } from "./fake-broker.ts";
import { busAt, embedded, endAll, later, PRESENCE, realAddress, subscriber, until } from "./loopback.ts";

afterEach(endAll);

class MemoryLedger {
  readonly topics = new Set<string>();
  async rememberRetained(topic: string): Promise<void> {
    this.topics.add(topic);
  }
  async forgetRetained(topic: string): Promise<void> {
    this.topics.delete(topic);
  }
  async retained(): Promise<readonly string[]> {
    return [...this.topics];
  }
}

const inUse = (...stations: string[]): string[] => retainedTopics("tidemark", "hall", "box", stations);

test("a station gone from the configuration is cleared from the broker, and then forgotten", async () => {
  const { port } = await embedded();
  const store = new MemoryLedger();
  const both = busAt(port);
  await keepRetainedLedger({ store, bus: both.bus, in_use: inUse("leg-press", "row"), log: () => {} });
  expect([...store.topics]).toEqual(inUse("leg-press", "row"));
  await until(() => expect(both.last()?.connected).toBe(true));
  for (const station of ["leg-press", "row"]) {
    both.bus.publishState(stationTopic("tidemark", "hall", station, "state"), JSON.stringify(SAMPLES.state));
    both.bus.publishState(stationTopic("tidemark", "hall", station, "latest-set"), JSON.stringify(SAMPLES.set));
  }
  await both.bus.stop();
  const before = await subscriber(port);
  await until(() => expect(before.heard).toHaveLength(5));

  const one = busAt(port);
  await keepRetainedLedger({ store, bus: one.bus, in_use: inUse("leg-press"), log: () => {} });
  await until(() => expect([...store.topics]).toEqual(inUse("leg-press")));
  const late = await subscriber(port);
  await until(() =>
    expect(late.heard.map(({ topic }) => topic).sort()).toEqual([
      PRESENCE,
      stationTopic("tidemark", "hall", "leg-press", "latest-set"),
      stationTopic("tidemark", "hall", "leg-press", "state"),
    ]),
  );
});

test("a ledger that is read only once we are connected clears all the same", async () => {
  const { port } = await embedded();
  const store = new MemoryLedger();
  store.topics.add("tidemark/hall/station/gone/state");
  const { bus, last } = busAt(port);
  await until(() => expect(last()?.connected).toBe(true));
  await keepRetainedLedger({ store, bus, in_use: inUse("row"), log: () => {} });
  await until(() => expect([...store.topics]).toEqual(inUse("row")));
});

test("what the broker did not let us clear stays written down, and is tried at the next connect", async () => {
  let refuse = true;
  const ghost = "tidemark/old-hall/station/row/state";
  const broker = await new FakeBroker({ onPublish: ({ topic }) => (refuse && topic === ghost ? 0x87 : "ack") }).start();
  later(() => broker.stop());
  const store = new MemoryLedger();
  store.topics.add(ghost);
  const lines: string[] = [];
  const { bus, last } = busAt(realAddress(broker.port));
  await keepRetainedLedger({ store, bus, in_use: inUse("row"), log: (line) => lines.push(line) });
  await until(() =>
    expect(lines).toEqual([`The broker does not let us clear ${ghost}, which nothing here publishes any more.`]),
  );
  expect(store.topics.has(ghost)).toBe(true);
  // Nothing of ours is refused, so it is no alarm.
  expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
  refuse = false;
  broker.dropAll();
  await until(() => expect(store.topics.has(ghost)).toBe(false));
  expect(broker.payloads(ghost)).toEqual(["", ""]);
  expect(broker.publishes.find(({ topic }) => topic === ghost)?.retain).toBe(true);
});
