/** The outbox against the embedded broker, and against brokers that do not say yes. */
import { afterEach, expect, test } from "vitest";
import { stationTopic } from "../../../protocol/messages/topics.ts";
import { BACK_OFF } from "../../../recorder/mqtt/back-off.ts";
import type { Bus } from "../../../recorder/mqtt/bus-port.ts";
import type { Answer } from "../../../recorder/mqtt/connection.ts";
import { LatestSets } from "../../../recorder/mqtt/latest-set.ts";
import { OutboxDrain } from "../../../recorder/mqtt/outbox-drain.ts";
import { SAMPLES } from "../../protocol/messages/samples.ts";
import { type Behaviour, FakeBroker } from "./fake-broker.ts";
import { busAt, embedded, endAll, later, MemoryOutbox, realAddress, subscriber, until } from "./loopback.ts";

afterEach(endAll);

const PRESS = stationTopic("tidemark", "hall", "leg-press", "set");
const ROW = stationTopic("tidemark", "hall", "row", "set");
const BENCH = stationTopic("tidemark", "hall", "bench", "set");
const LATEST = stationTopic("tidemark", "hall", "leg-press", "latest-set");

/** A set of its own, numbered; the number also makes its id, so that a higher one is newer. */
const set = (set_seq: number): string =>
  JSON.stringify({
    ...SAMPLES.set,
    set_seq,
    set_id: `019a9f3c-5a10-7c3e-8b7d-${String(set_seq).padStart(12, "0")}`,
    note: "as kept: \u00e4, \u{1f4aa}",
  });

const isPoison = (payload: Buffer | string): boolean => String(payload) === set(1);

/** The numbers of payloads, each of which has to be the very bytes that were kept. */
function numbersOf(payloads: readonly string[]): number[] {
  return payloads.map((payload) => {
    const { set_seq } = JSON.parse(payload) as { set_seq: number };
    expect(payload === set(set_seq)).toBe(true);
    return set_seq;
  });
}

const upTo = (last: number): number[] => Array.from({ length: last }, (_, index) => index + 1);

function drained(bus: Bus, outbox: MemoryOutbox, waits: number[] = []): OutboxDrain {
  const drain = new OutboxDrain({
    store: outbox,
    bus,
    latest: new LatestSets(bus),
    random: () => 0,
    log: () => {},
    wait_ms: (failures) => {
      waits.push(failures);
      return 5;
    },
  });
  later(() => drain.stop());
  return drain;
}

async function fake(behaviour: Behaviour): Promise<FakeBroker> {
  const broker = await new FakeBroker(behaviour).start();
  later(() => broker.stop());
  return broker;
}

test("rows written while there was no broker come in order, byte-equal, and go when it said yes", async () => {
  const broker = await embedded();
  await broker.stop();
  const outbox = new MemoryOutbox();
  const { bus, last } = busAt(broker.port);
  const drain = drained(bus, outbox);
  for (const number of upTo(57)) {
    outbox.add(number % 3 === 0 ? "row" : "leg-press", number % 3 === 0 ? ROW : PRESS, set(number));
  }
  drain.wake();
  await until(() => expect(last()?.trouble).toContain("Nothing listens"));
  expect(outbox.removed).toEqual([]);

  const again = await embedded(broker.port);
  const ears = await subscriber(again.port);
  await until(() => expect(outbox.rows).toEqual([]));
  const thirds = upTo(57).filter((number) => number % 3 === 0);
  await until(() => expect(numbersOf(ears.payloads(PRESS))).toEqual(upTo(57).filter((number) => number % 3 !== 0)));
  await until(() => expect(numbersOf(ears.payloads(ROW))).toEqual(thirds));
  expect(outbox.removed).toHaveLength(57);

  // The newest one is also there for whoever comes late, and only that one.
  const late = await subscriber(again.port);
  await until(() => expect(numbersOf(late.payloads(LATEST))).toEqual([56]));
  expect(late.payloads(PRESS)).toEqual([]);
});

test("a row added while one is under way is sent without a second knock", async () => {
  const { port } = await embedded();
  const ears = await subscriber(port, PRESS);
  const outbox = new MemoryOutbox();
  const { bus, last } = busAt(port);
  const drain = drained(bus, outbox);
  await until(() => expect(last()?.connected).toBe(true));
  for (let number = 1; number <= 30; number += 1) {
    outbox.add("leg-press", PRESS, set(number));
    drain.wake();
  }
  await until(() => expect(outbox.rows).toEqual([]));
  await until(() => expect(numbersOf(ears.payloads(PRESS))).toEqual(upTo(30)));
});

test("an acknowledgement that never comes: the same bytes are sent again on the next connection", async () => {
  let swallow = 2;
  const broker = await fake({ onPublish: ({ topic }) => (topic === PRESS && swallow-- > 0 ? "nothing" : "ack") });
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port), { timing: { answer_ms: 300 } });
  drained(bus, outbox);
  outbox.add("leg-press", PRESS, set(1));
  outbox.add("leg-press", PRESS, set(2));
  await until(() => expect(outbox.rows).toEqual([]));
  expect(broker.connects).toHaveLength(3);
  expect(numbersOf(broker.payloads(PRESS))).toEqual([1, 1, 1, 2]);
});

test("a connection cut before the acknowledgement keeps the row", async () => {
  let cut = true;
  const broker = await fake({ onPublish: ({ topic }) => (topic === PRESS && cut ? "hang-up" : "ack") });
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port));
  drained(bus, outbox);
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(broker.payloads(PRESS).length).toBeGreaterThan(1));
  expect(outbox.removed).toEqual([]);
  cut = false;
  await until(() => expect(outbox.removed).toEqual([1]));
  expect(new Set(numbersOf(broker.payloads(PRESS)))).toEqual(new Set([1]));
});

test("a refused station waits by itself, raises the alarm, and catches up in order once it may", async () => {
  let refuse = true;
  const broker = await fake({ onPublish: ({ topic }) => (refuse && topic === PRESS ? 0x87 : "ack") });
  const outbox = new MemoryOutbox();
  const { bus, last } = busAt(realAddress(broker.port));
  drained(bus, outbox);
  for (let number = 1; number <= 3; number += 1) {
    outbox.add("leg-press", PRESS, set(number));
    outbox.add("row", ROW, set(number + 10));
  }
  await until(() => expect(outbox.rows.map(({ station }) => station)).toEqual(Array(3).fill("leg-press")));
  expect(numbersOf(broker.payloads(ROW))).toEqual([11, 12, 13]);
  await until(() => expect(last()).toMatchObject({ connected: true, alarm: "not-authorised" }));
  // Only the oldest is tried, again and again, on the one connection.
  await until(() => expect(broker.payloads(PRESS).length).toBeGreaterThan(2));
  expect(new Set(numbersOf(broker.payloads(PRESS)))).toEqual(new Set([1]));
  expect(broker.payloads(LATEST)).toEqual([]);
  refuse = false;
  await until(() => expect(outbox.rows).toEqual([]));
  expect(numbersOf(broker.payloads(PRESS)).slice(-3)).toEqual([1, 2, 3]);
  expect(broker.connects).toHaveLength(1);
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
});

test("a refusal is tried less and less often, and the count begins anew once it was taken", async () => {
  let refuse = true;
  const broker = await fake({ onPublish: ({ topic }) => (refuse && topic === PRESS ? 0x97 : "ack") });
  const outbox = new MemoryOutbox();
  const waits: number[] = [];
  const { bus, last } = busAt(realAddress(broker.port));
  const drain = drained(bus, outbox, waits);
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(waits.slice(0, 4)).toEqual([1, 2, 3, 4]));
  expect(last()).toMatchObject({ alarm: null, trouble: expect.stringContaining("reason 0x97") });
  refuse = false;
  await until(() => expect(outbox.rows).toEqual([]));
  refuse = true;
  waits.length = 0;
  outbox.add("leg-press", PRESS, set(2));
  drain.wake();
  await until(() => expect(waits.slice(0, 2)).toEqual([1, 2]));
});

test("a new connection tries a refused row at once, whatever was left to wait", async () => {
  let refuse = true;
  const broker = await fake({ onPublish: ({ topic }) => (refuse && topic === PRESS ? 0x87 : "ack") });
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port));
  const options = { store: outbox, bus, latest: new LatestSets(bus), random: () => 0, log: () => {} };
  const drain = new OutboxDrain({ ...options, wait_ms: () => 600_000 });
  later(() => drain.stop());
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(broker.payloads(PRESS)).toHaveLength(1));
  refuse = false;
  broker.dropAll();
  await until(() => expect(outbox.rows).toEqual([]));
});

test("a row that no connection outlives: sent alone at the third try, then set aside for longer than a refusal, and all others go", async () => {
  let poison = true;
  const broker = await fake({ onPublish: ({ payload }) => (poison && isPoison(payload) ? "hang-up" : "ack") });
  const outbox = new MemoryOutbox();
  const waits: [number, number][] = [];
  const { bus, last, lines } = busAt(realAddress(broker.port));
  const options = { store: outbox, bus, latest: new LatestSets(bus), random: () => 0, log: () => {} };
  // The first wait of a refusal is 1 s.
  const drain = new OutboxDrain({
    ...options,
    wait_ms: (failures, _random, limits = BACK_OFF) => waits.push([failures, limits.first_wait_ms]) && 600_000,
  });
  later(() => drain.stop());
  outbox.add("leg-press", PRESS, set(1));
  for (const number of upTo(40)) outbox.add(number % 2 ? "row" : "bench", number % 2 ? ROW : BENCH, set(100 + number));
  outbox.add("leg-press", PRESS, set(2));
  await until(() => expect(waits).toEqual([[1, 60_000]]));
  await until(() => expect(outbox.rows.map(({ row }) => row)).toEqual([1, 42]));
  for (const [topic, odd] of [
    [ROW, 1],
    [BENCH, 0],
  ] as const) {
    const firsts = [...new Set(numbersOf(broker.payloads(topic)))];
    expect(firsts).toEqual(
      upTo(40)
        .filter((number) => number % 2 === odd)
        .map((number) => 100 + number),
    );
  }
  expect(broker.payloads(PRESS)).toHaveLength(3);
  await until(() => expect(last()).toMatchObject({ connected: true, alarm: null }));
  expect(last()?.trouble).toMatch(
    /^The connection is lost whenever a message of \d+ bytes on .*leg-press\/set is sent, .*: .*\.$/,
  );
  // The connection that came after is not spent on it, and carries what comes.
  outbox.add("row", ROW, set(200));
  drain.wake();
  await until(() => expect(outbox.rows.map(({ row }) => row)).toEqual([1, 42]));
  expect(broker.connects).toHaveLength(4);

  // Ended by something else, it may be another broker: one that is better is found at once.
  poison = false;
  broker.dropAll();
  await until(() => expect(outbox.rows).toEqual([]));
  expect(numbersOf(broker.payloads(PRESS)).slice(-2)).toEqual([1, 2]);
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
  expect(lines.filter((line) => line.includes("bytes"))).toHaveLength(1);
});

test("a row set aside is tried again when its time comes, alone, and waits longer each time", async () => {
  const broker = await fake({ onPublish: ({ payload }) => (isPoison(payload) ? "hang-up" : "ack") });
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port));
  const waits: number[] = [];
  drained(bus, outbox, waits);
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(waits.slice(0, 3)).toEqual([1, 2, 3]));
  expect(outbox.removed).toEqual([]);
});

test("a connection that was silent from the start blames no row", async () => {
  let silent = true;
  const broker = await fake({ onPublish: () => (silent ? "nothing" : "ack") });
  const outbox = new MemoryOutbox();
  const waits: number[] = [];
  const { bus, statuses } = busAt(realAddress(broker.port), { timing: { answer_ms: 100 } });
  drained(bus, outbox, waits);
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(broker.connects.length).toBeGreaterThan(3));
  silent = false;
  await until(() => expect(outbox.rows).toEqual([]));
  expect(waits).toEqual([]);
  expect(statuses.filter(({ trouble }) => trouble?.includes("bytes"))).toEqual([]);
});

test("latest-set comes after its set", async () => {
  const broker = await fake({});
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port));
  drained(bus, outbox);
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(numbersOf(broker.payloads(LATEST))).toEqual([1]));
  const topics = broker.publishes.map(({ topic }) => topic);
  expect(topics.indexOf(PRESS)).toBeLessThan(topics.indexOf(LATEST));
  expect(broker.publishes.find(({ topic }) => topic === LATEST)).toMatchObject({ retain: true, qos: 1 });
  expect(broker.publishes.find(({ topic }) => topic === PRESS)).toMatchObject({ retain: false, qos: 1 });
});

test("a store that fails is tried again, and said once", async () => {
  const broker = await fake({});
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port));
  let broken = true;
  const lines: string[] = [];
  const drain = new OutboxDrain({
    store: {
      outbox: (limit) => (broken ? Promise.reject(new Error("disk I/O error")) : outbox.outbox(limit)),
      sent: (row) => outbox.sent(row),
    },
    bus,
    latest: new LatestSets(bus),
    random: () => 0,
    log: (line) => lines.push(line),
    wait_ms: () => 5,
  });
  later(() => drain.stop());
  outbox.add("leg-press", PRESS, set(1));
  await until(() => expect(lines).toEqual(["The outbox cannot be read: disk I/O error"]));
  broken = false;
  await until(() => expect(outbox.removed).toEqual([1]));
  expect(lines).toHaveLength(1);
});

test("a stop ends with the answer under way, and begins no further row", async () => {
  const broker = await fake({ onPublish: ({ topic }) => (topic === PRESS ? "nothing" : "ack") });
  const outbox = new MemoryOutbox();
  const { bus } = busAt(realAddress(broker.port), { timing: { answer_ms: 60_000 } });
  const drain = drained(bus, outbox);
  outbox.add("leg-press", PRESS, set(1));
  outbox.add("leg-press", PRESS, set(2));
  await until(() => expect(broker.payloads(PRESS)).toHaveLength(1));
  const drainStopped = drain.stop();
  await bus.stop();
  await drainStopped;
  expect(numbersOf(broker.payloads(PRESS))).toEqual([1]);
  expect(outbox.rows).toHaveLength(2);
});

test("a refusal that comes after the stop begins no wait: nothing of the drain outlives it", async () => {
  const outbox = new MemoryOutbox();
  outbox.add("leg-press", PRESS, set(1));
  const waits: number[] = [];
  const broker = deferred<Answer>();
  const asked = deferred<void>();
  const drain = new OutboxDrain({
    store: outbox,
    bus: {
      afterAnswer: (listener) => listener(),
      setAside: () => {},
      publishKept: () => {
        asked.resolve();
        return broker.promise;
      },
    },
    latest: { offer: () => {} },
    random: () => 0,
    log: () => {},
    wait_ms: (failures) => {
      waits.push(failures);
      return 5;
    },
  });
  drain.wake();
  await asked.promise;
  const stopped = drain.stop();
  broker.resolve({ ok: false, code: 0x87 });
  await stopped;
  expect(waits).toEqual([]);
});

function deferred<T>(): { readonly promise: Promise<T>; readonly resolve: (value: T) => void } {
  let resolve: (value: T) => void = () => {};
  const promise = new Promise<T>((settle) => {
    resolve = settle;
  });
  return { promise, resolve };
}
