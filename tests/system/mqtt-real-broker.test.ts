/**
 * The MQTT 5 path against mosquitto, a broker that shares no code with ours: rights, passwords, another recorder of the
 * same name, a restart without memory, a freeze. What MQTT 5 says of each: sections 3.4.2.1, 3.2.2.2, 3.1.4.
 */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { connectAsync } from "mqtt";
import { afterEach, expect, test } from "vitest";
import { stationTopic } from "../../protocol/messages/topics.ts";
import { LatestSets } from "../../recorder/mqtt/latest-set.ts";
import { OutboxDrain } from "../../recorder/mqtt/outbox-drain.ts";
import { SAMPLES } from "../protocol/messages/samples.ts";
import {
  busAt,
  endAll,
  later,
  MemoryOutbox,
  PRESENCE,
  realAddress,
  Subscriber,
  until,
} from "../recorder/mqtt/loopback.ts";
import { Mosquitto, type MosquittoSetup } from "./mosquitto.ts";

afterEach(endAll);

const OPEN = stationTopic("tidemark", "hall", "open", "set");
const SHUT = stationTopic("tidemark", "hall", "shut", "set");
const STATE = stationTopic("tidemark", "hall", "open", "state");

const NARROW = `user box
topic readwrite ${PRESENCE}
topic write tidemark/hall/station/open/#

user display
topic read #
`;
const WIDE = NARROW.replace("station/open/#", "station/#");

const said = (payload: string | undefined): unknown => JSON.parse(payload ?? "null");
const payload = JSON.stringify(SAMPLES.set);

async function broker(setup: Partial<MosquittoSetup> = {}): Promise<Mosquitto> {
  const mosquitto = new Mosquitto();
  later(() => mosquitto.remove());
  return mosquitto.start({ users: { box: "open sesame", display: "look" }, acl: WIDE, ...setup });
}

function address(mosquitto: Mosquitto, password = "open sesame") {
  const password_file = join(mosquitto.folder, "box-password");
  writeFileSync(password_file, `${password}\n`);
  return { ...realAddress(mosquitto.port), username: "box", password_file };
}

async function display(mosquitto: Mosquitto): Promise<Subscriber> {
  const client = await connectAsync(`mqtt://127.0.0.1:${mosquitto.port}`, {
    username: "display",
    password: "look",
    reconnectPeriod: 0,
  });
  later(() => client.end(true));
  const ears = new Subscriber(client);
  await client.subscribeAsync("#", { qos: 1 });
  return ears;
}

function drained(bus: ReturnType<typeof busAt>["bus"], outbox: MemoryOutbox): void {
  const options = { store: outbox, bus, latest: new LatestSets(bus), random: () => 0, log: () => {} };
  const drain = new OutboxDrain({ ...options, wait_ms: () => 50 });
  later(() => drain.stop());
}

test("a topic its rights forbid: the row stays, others pass, and it goes once the right is given", async () => {
  const mosquitto = await broker({ acl: NARROW });
  const ears = await display(mosquitto);
  const outbox = new MemoryOutbox();
  outbox.add("shut", SHUT, payload);
  outbox.add("open", OPEN, payload);
  const { bus, last } = busAt(address(mosquitto));
  drained(bus, outbox);
  await until(() => expect(ears.payloads(OPEN)).toEqual([payload]));
  await until(() => expect(last()).toMatchObject({ connected: true, alarm: "not-authorised" }));
  expect(last()?.trouble).toContain(SHUT);
  expect(outbox.rows.map(({ station }) => station)).toEqual(["shut"]);
  expect(ears.payloads(SHUT)).toEqual([]);

  mosquitto.setAcl(WIDE);
  mosquitto.signal("SIGHUP");
  await until(() => expect(ears.payloads(SHUT)).toEqual([payload]));
  await until(() => expect(outbox.rows).toEqual([]));
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
});

test("a wrong password is said, and mending the file is enough", async () => {
  const mosquitto = await broker();
  const { last, lines } = busAt(address(mosquitto, "abracadabra"));
  await until(() => expect(last()).toMatchObject({ connected: false, alarm: "not-authorised" }));
  address(mosquitto);
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
  expect(lines.join()).not.toContain("abracadabra");
});

test("two recorders of one name: both are told, and the presence that stays is that of the one that stays", async () => {
  const mosquitto = await broker();
  const ears = await display(mosquitto);
  const timing = { first_wait_ms: 100, longest_wait_ms: 400 };
  const first = busAt(address(mosquitto), { timing });
  await until(() => expect(said(ears.newest(PRESENCE))).toMatchObject({ online: true }));
  const second = busAt(address(mosquitto), { timing, boot: "0d0f3a2e-77aa-4c11-8e0a-5b1c2d3e4f50" });
  await until(() => expect(first.last()?.alarm).toBe("recorder-conflict"));
  await until(() => expect(second.last()?.alarm).toBe("recorder-conflict"));
  // Each takeover has had the other's will sent; whoever is connected has said again that the recorder is there.
  expect(ears.payloads(PRESENCE).some((one) => one.includes('"lost"'))).toBe(true);
  await second.bus.stop();
  await until(() => expect(first.last()).toEqual({ connected: true, trouble: null, alarm: null }));
  const late = await display(mosquitto);
  await until(() => expect(said(late.newest(PRESENCE))).toMatchObject({ online: true, boot: SAMPLES.presence.boot }));
});

test("killed and started without memory: everything retained is back, and what was kept meanwhile arrives", async () => {
  const mosquitto = await broker();
  const outbox = new MemoryOutbox();
  const { bus, last } = busAt(address(mosquitto));
  drained(bus, outbox);
  await until(() => expect(last()?.connected).toBe(true));
  bus.publishState(STATE, JSON.stringify(SAMPLES.state));
  await mosquitto.kill();
  await until(() => expect(last()?.connected).toBe(false));
  outbox.add("open", OPEN, payload);
  await mosquitto.run();
  await until(() => expect(outbox.rows).toEqual([]));
  const late = await display(mosquitto);
  await until(() => expect(late.newest(STATE)).toBe(JSON.stringify(SAMPLES.state)));
  await until(() => expect(late.newest(stationTopic("tidemark", "hall", "open", "latest-set"))).toBe(payload));
  expect(said(late.newest(PRESENCE))).toMatchObject({ online: true });
});

test("a frozen broker: no answer, the row stays and is sent again; a stop takes under 2 s", async () => {
  const mosquitto = await broker();
  const outbox = new MemoryOutbox();
  const { bus, last } = busAt(address(mosquitto), { timing: { answer_ms: 400, connect_ms: 400 } });
  drained(bus, outbox);
  await until(() => expect(last()?.connected).toBe(true));
  mosquitto.signal("SIGSTOP");
  outbox.add("open", OPEN, payload);
  expect(await bus.publishKept(SHUT, payload)).toMatchObject({ ok: false, code: null });
  await until(() => expect(last()?.connected).toBe(false));
  mosquitto.signal("SIGCONT");
  await until(() => expect(outbox.rows).toEqual([]));
  await until(() => expect(last()).toEqual({ connected: true, trouble: null, alarm: null }));
  mosquitto.signal("SIGSTOP");
  const before_ms = performance.now();
  await bus.stop();
  expect(performance.now() - before_ms).toBeLessThan(2000);
});

test("a stop on purpose says so and leaves no will behind", async () => {
  const mosquitto = await broker();
  const ears = await display(mosquitto);
  const { bus, last } = busAt(address(mosquitto));
  await until(() => expect(last()?.connected).toBe(true));
  await bus.stop();
  await until(() => expect(said(ears.newest(PRESENCE))).toMatchObject({ online: false, reason: "stop" }));
  const late = await display(mosquitto);
  await until(() => expect(said(late.newest(PRESENCE))).toMatchObject({ reason: "stop" }));
  expect(ears.payloads(PRESENCE).some((one) => one.includes('"lost"'))).toBe(false);
});
