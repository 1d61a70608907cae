/**
 * What an outage leaves behind, on mosquitto with its limits narrowed: it comes in order, once each, and stands in nobody's
 * way. Limits: mosquitto.conf(5), max_inflight_messages and max_packet_size, which MQTT 5.0 section 3.2.2.3 has it tell us.
 */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { connectAsync } from "mqtt";
import { afterEach, expect, test } from "vitest";
import { stationTopic } from "../../protocol/messages/topics.ts";
import { LatestSets } from "../../recorder/mqtt/latest-set.ts";
import { OutboxDrain } from "../../recorder/mqtt/outbox-drain.ts";
import { SAMPLES } from "../protocol/messages/samples.ts";
import { busAt, endAll, later, MemoryOutbox, realAddress, Subscriber, until } from "../recorder/mqtt/loopback.ts";
import { Mosquitto } from "./mosquitto.ts";

afterEach(endAll);

const SETS = 1000;
const STATIONS = ["leg-press", "row"] as const;
const topicOf = (station: string) => stationTopic("tidemark", "hall", station, "set");
const LIVE = "tidemark/hall/station/leg-press/pulse";
const payloadOf = (set_seq: number, note = "") => JSON.stringify({ ...SAMPLES.set, set_seq, note });

async function hall(limits: readonly string[]) {
  const mosquitto = new Mosquitto();
  later(() => mosquitto.remove());
  await mosquitto.start({ users: { box: "open sesame" }, acl: "user box\ntopic readwrite #\n", limits });
  const password_file = join(mosquitto.folder, "password");
  writeFileSync(password_file, "open sesame\n");
  const client = await connectAsync(`mqtt://127.0.0.1:${mosquitto.port}`, {
    username: "box",
    password: "open sesame",
    reconnectPeriod: 0,
  });
  later(() => client.end(true));
  const ears = new Subscriber(client);
  await client.subscribeAsync("tidemark/#", { qos: 1 });
  const outbox = new MemoryOutbox();
  const start = () => {
    const one = busAt({ ...realAddress(mosquitto.port), username: "box", password_file });
    const drain = new OutboxDrain({
      store: outbox,
      bus: one.bus,
      latest: new LatestSets(one.bus),
      random: () => 0,
      log: (line) => one.lines.push(line),
      wait_ms: () => 50,
    });
    later(() => drain.stop());
    return one;
  };
  return { ears, outbox, start };
}

test.each([
  ["as it comes", []],
  ["one unanswered message at a time", ["max_inflight_messages 1"]],
] as const)(
  "a backlog of 1,000 sets, %s: in order, once each, and live values go on meanwhile",
  async (_how, limits) => {
    const { ears, outbox, start } = await hall(limits);
    for (let set_seq = 1; set_seq <= SETS; set_seq += 1) {
      const station = STATIONS[set_seq % 2] as string;
      outbox.add(station, topicOf(station), payloadOf(set_seq));
    }
    const { bus, last, lines } = start();
    let said = 0;
    const live = setInterval(() => {
      if (!bus.connected() || outbox.rows.length === 0) return;
      said += 1;
      bus.publishLive(LIVE, JSON.stringify({ said_ms: performance.now() }));
    }, 20);
    later(() => clearInterval(live));
    const late_ms: number[] = [];
    ears.client.on("message", (topic, bytes) => {
      if (topic === LIVE)
        late_ms.push(performance.now() - (JSON.parse(bytes.toString()) as { said_ms: number }).said_ms);
    });
    await expect.poll(() => outbox.rows.length, { timeout: 30_000, interval: 5 }).toBe(0);
    // The broker hands on what it took at its own pace.
    await until(() => expect(STATIONS.flatMap((station) => ears.payloads(topicOf(station)))).toHaveLength(SETS));
    await until(() => expect(late_ms.length).toBe(said));
    for (const station of STATIONS) {
      const heard = ears.payloads(topicOf(station)).map((one) => (JSON.parse(one) as { set_seq: number }).set_seq);
      const wanted = Array.from({ length: SETS }, (_, at) => at + 1).filter((seq) => STATIONS[seq % 2] === station);
      expect(heard).toEqual(wanted);
    }
    expect(said).toBeGreaterThan(0);
    expect(bus.dropped().live).toBe(0);
    // A loaded machine, not a queue: behind the whole backlog a value would wait for seconds.
    expect(Math.max(...late_ms)).toBeLessThan(1000);
    expect(last()).toEqual({ connected: true, trouble: null, alarm: null });
    expect(lines).toHaveLength(1);
  },
);

test("a set larger than the broker takes holds up its own station only, and is said once", async () => {
  const { ears, outbox, start } = await hall(["max_packet_size 20000"]);
  outbox.add("leg-press", topicOf("leg-press"), payloadOf(1, "x".repeat(30_000)));
  outbox.add("leg-press", topicOf("leg-press"), payloadOf(2));
  outbox.add("row", topicOf("row"), payloadOf(3));
  const { last, lines } = start();
  await until(() => expect(ears.payloads(topicOf("row"))).toEqual([payloadOf(3)]));
  await until(() =>
    expect(last()?.trouble).toMatch(/^A message on .*leg-press\/set is larger than the broker takes: .*\.$/),
  );
  expect(outbox.rows.map(({ row }) => row)).toEqual([1, 2]);
  expect(ears.payloads(topicOf("leg-press"))).toEqual([]);
  expect(lines).toHaveLength(2);
});

test("an answer that is no MQTT 5: the connection is given up at once, and the row stays", async () => {
  const { ears, outbox, start } = await hall(["message_size_limit 20000"]);
  outbox.add("leg-press", topicOf("leg-press"), payloadOf(1, "x".repeat(30_000)));
  const { statuses } = start();
  // Well before an answer would be missed, which takes 10 s.
  await until(() => expect(statuses.filter(({ connected }) => connected).length).toBeGreaterThan(1));
  expect(outbox.rows).toHaveLength(1);
  expect(ears.payloads(topicOf("leg-press"))).toEqual([]);
});
