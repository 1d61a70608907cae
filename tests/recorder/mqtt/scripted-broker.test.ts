/**
 * What an MQTT 5.0 broker may say, and mosquitto cannot be made to: reason codes of PUBACK (section 3.4.2.1), CONNACK
 * (3.2.2.2) and DISCONNECT (3.14.2.1), a keep-alive of its own (3.2.2.3.14), and answers that are no answers.
 */
import { afterEach, expect, test } from "vitest";
import { stationTopic } from "../../../protocol/messages/topics.ts";
import { LatestSets } from "../../../recorder/mqtt/latest-set.ts";
import { OutboxDrain } from "../../../recorder/mqtt/outbox-drain.ts";
import { SAMPLES } from "../../protocol/messages/samples.ts";
import { type Behaviour, FakeBroker, type Reply } from "./fake-broker.ts";
import { type BusUnderTest, busAt, endAll, later, MemoryOutbox, realAddress, until } from "./loopback.ts";

afterEach(endAll);

const PRESS = stationTopic("tidemark", "hall", "leg-press", "set");
const ROW = stationTopic("tidemark", "hall", "row", "set");
const payload = JSON.stringify(SAMPLES.set);

/** Of `busAt`: doubling up to its longest. No connection here lasts long enough to begin them anew. */
const WAITS_MS = [10, 20, 40, 80, 160, 320, 600];

async function fake(behaviour: Behaviour): Promise<FakeBroker> {
  const broker = await new FakeBroker(behaviour).start();
  later(() => broker.stop());
  return broker;
}

interface Kept extends BusUnderTest {
  readonly outbox: MemoryOutbox;
}

/** Two stations, two sets each. */
function kept(broker: FakeBroker, answer_ms = 10_000): Kept {
  const outbox = new MemoryOutbox();
  for (const [station, topic] of [
    ["leg-press", PRESS],
    ["row", ROW],
  ] as const) {
    outbox.add(station, topic, payload);
    outbox.add(station, topic, payload);
  }
  const one = busAt(realAddress(broker.port), { timing: { answer_ms, steady_ms: 600_000 } });
  const options = { store: outbox, bus: one.bus, latest: new LatestSets(one.bus), random: () => 0, log: () => {} };
  const drain = new OutboxDrain({ ...options, wait_ms: () => 50 });
  later(() => drain.stop());
  return { ...one, outbox };
}

const stationsOf = (outbox: MemoryOutbox): string[] => outbox.rows.map(({ station }) => station);

/** No try came sooner after the one before than the waits allow; a timer may be 1 ms early. */
function expectWaits(broker: FakeBroker): void {
  broker.connects_ms.slice(1).forEach((at_ms, tries) => {
    const waited_ms = at_ms - (broker.connects_ms[tries] ?? 0);
    expect(waited_ms).toBeGreaterThanOrEqual((WAITS_MS[tries] ?? 600) - 1);
  });
}

test.each(["80", "83", "91", "97", "99"])(
  "PUBACK 0x%s: the station waits, the other goes, and the connection stands",
  async (hex) => {
    const code = Number.parseInt(hex, 16);
    let refuse = true;
    const broker = await fake({ onPublish: ({ topic }) => (refuse && topic === PRESS ? code : "ack") });
    const { outbox, last, lines } = kept(broker);
    await until(() => expect(stationsOf(outbox)).toEqual(["leg-press", "leg-press"]));
    await until(() => expect(last()?.trouble).toContain(`reason 0x${hex}`));
    await until(() => expect(broker.payloads(PRESS).length).toBeGreaterThan(2));
    expect(lines).toHaveLength(2);
    refuse = false;
    await until(() => expect(outbox.rows).toEqual([]));
    await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
    expect(broker.connects).toHaveLength(1);
  },
);

test("PUBACK 0x10, nobody listens: that is a yes", async () => {
  const broker = await fake({ onPublish: () => 0x10 });
  const { outbox, last } = kept(broker);
  await until(() => expect(outbox.removed).toHaveLength(4));
  expect(broker.payloads(PRESS)).toHaveLength(2);
  expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
});

test.each<[string, Reply, RegExp, string | null]>([
  ["shutting down", { disconnect: 0x8b }, /is not ready or is going down/, null],
  ["use another server", { disconnect: 0x9c }, /sends us to another one: .* broker\.url/, null],
  ["server moved", { disconnect: 0x9d }, /sends us to another one/, null],
  ["taken over", { disconnect: 0x8e }, /taken our place/, "recorder-conflict"],
  ["receive maximum exceeded", { disconnect: 0x93 }, /reason 0x93/, null],
  ["quota exceeded", { disconnect: 0x97 }, /reason 0x97/, null],
  ["what is no packet", "garbage", /was lost/, null],
])(
  "%s instead of an answer: nothing is lost, the tries thin out, and it recovers",
  async (_what, reply, words, alarm) => {
    let bad = true;
    const broker = await fake({ onPublish: ({ topic }) => (bad && topic === PRESS ? reply : "ack") });
    const { outbox, statuses, last, lines } = kept(broker);
    await until(() => expect(broker.connects.length).toBeGreaterThan(5));
    expect(stationsOf(outbox).slice(0, 2)).toEqual(["leg-press", "leg-press"]);
    const troubles = statuses.filter(({ connected }) => !connected);
    for (const { trouble } of troubles) expect(trouble).toMatch(words);
    expect(troubles[0]?.alarm).toBe(alarm);
    // Each connection is said, and how it ended; a row set aside once more.
    expect(lines.length).toBeLessThanOrEqual(2 * broker.connects.length + 1);
    bad = false;
    await until(() => expect(outbox.rows).toEqual([]));
    await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
    expectWaits(broker);
  },
);

test("a PUBACK for what was never sent is no yes: the row is sent again, the very same", async () => {
  let bad = true;
  const broker = await fake({ onPublish: ({ topic }) => (bad && topic === PRESS ? "wrong id" : "ack") });
  const { outbox } = kept(broker, 200);
  await until(() => expect(broker.connects.length).toBeGreaterThan(1));
  expect(outbox.removed).not.toContain(1);
  bad = false;
  await until(() => expect(outbox.rows).toEqual([]));
  expect(new Set(broker.payloads(PRESS))).toEqual(new Set([payload]));
});

test.each<[string, RegExp]>([
  ["88", /is not ready/],
  ["89", /is not ready/],
  ["8a", /has banned us/],
  ["97", /reason 0x97/],
  ["9c", /sends us to another one/],
  ["9f", /reason 0x9f/],
])("CONNACK 0x%s: one line, tries that thin out, and in once it may", async (hex, words) => {
  let shut = true;
  const broker = await fake({ onConnect: () => (shut ? Number.parseInt(hex, 16) : "ack") });
  const { outbox, last, lines } = kept(broker);
  await until(() => expect(broker.connects.length).toBeGreaterThan(4));
  expect(last()).toMatchObject({ connected: false, trouble: expect.stringMatching(words) });
  expect(lines).toHaveLength(1);
  expectWaits(broker);
  shut = false;
  await until(() => expect(outbox.rows).toEqual([]));
});

test("a broker that wants to hear from us more often than we said does", async () => {
  const broker = await fake({ connack: { serverKeepAlive: 1 } });
  const { last, lines } = kept(broker);
  await until(() => expect(broker.pings).toBeGreaterThan(1));
  expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
  expect(lines).toHaveLength(1);
});

test("a broker that takes one unanswered message at a time is never given two", async () => {
  const broker = await fake({ connack: { receiveMaximum: 1 } });
  const { outbox } = kept(broker);
  await until(() => expect(outbox.rows).toEqual([]));
  expect(broker.mostUnanswered).toBe(1);
});
