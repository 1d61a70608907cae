/**
 * Requests over a real broker, whose rights are the only ones there are: mosquitto.conf(5) and its access list, with
 * `pattern` and %u for the answers. What a subscriber may not have is tested by what it gets: mosquitto grants a
 * subscription whatever its access list says, and then delivers nothing.
 */
import { randomUUID } from "node:crypto";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { connectAsync, type ErrorWithReasonCode, type MqttClient } from "mqtt";
import { afterAll, beforeAll, expect, test } from "vitest";
import { realTime } from "../../recorder/simulated-gym/pace.ts";
import { validateMessage } from "../protocol/messages/validate.ts";
import { busAt, endAll, realAddress, until } from "../recorder/mqtt/loopback.ts";
import { configurationIn, type GymService, startGym, stopAll } from "../recorder/run/gym-service.ts";
import { Mosquitto } from "./mosquitto.ts";

const HALL = "tidemark/paper-hall";
const STATION = `${HALL}/station/knee-extension`;
const RECORDER = `${HALL}/recorder/paper-box`;
const NOT_AUTHORISED = 0x87;

const ACL = `
pattern read tidemark/+/+/+/response/%u/#

user box
topic readwrite tidemark/#

user tablet
topic write tidemark/+/+/+/request/read/+

user trainer
topic write tidemark/+/+/+/request/read/+
topic write tidemark/+/+/+/request/train/+

user spy
topic write tidemark/+/+/+/request/read/+
`;

const folder = mkdtempSync(join(tmpdir(), "tidemark-requests-"));
const broker = new Mosquitto();
const clients: MqttClient[] = [];
let running: GymService;

beforeAll(async () => {
  const users = { box: "b-secret", tablet: "secret", trainer: "secret", spy: "secret" };
  await broker.start({ users, acl: ACL });
  const password_file = join(folder, "password");
  writeFileSync(password_file, "b-secret\n", { mode: 0o600 });
  const base = configurationIn(folder);
  const url = `mqtt://127.0.0.1:${broker.port}`;
  running = await startGym(
    {
      ...base,
      broker: { url, username: "box", password_file, root: "tidemark" },
      control: { ...base.control, mqtt: ["read", "train"] },
    },
    true,
    realTime(),
  );
  await until(async () => {
    expect(await running.ask("status")).toMatchObject({ result: { broker: { connected: true } } });
  });
});

afterAll(async () => {
  for (const client of clients) await client.endAsync(true);
  await stopAll();
  await broker.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** A client of the broker, with all that reaches it. */
async function as(username: string, filter: string) {
  const client = await connectAsync(`mqtt://127.0.0.1:${broker.port}`, {
    username,
    password: "secret",
    protocolVersion: 5,
  });
  clients.push(client);
  const heard: { readonly topic: string; readonly body: Record<string, unknown> }[] = [];
  client.on("message", (topic, payload) => {
    if (topic.includes("/response/")) expect(validateMessage("response", payload.toString())).toEqual([]);
    heard.push({ topic, body: JSON.parse(payload.toString()) });
  });
  await client.subscribeAsync(filter, { qos: 1 });
  /** The broker's reason for refusing it; null: it took it. */
  const send = (topic: string, payload: object, retain = false): Promise<number | null> =>
    client.publishAsync(topic, JSON.stringify(payload), { qos: 1, retain }).then(
      () => null,
      (error: ErrorWithReasonCode) => error.code,
    );
  return { heard, send };
}

const unheard = async (): Promise<Record<string, number>> => {
  const status = await running.ask("status");
  return (status as { result: { broker: { unheard_requests: Record<string, number> } } }).result.broker
    .unheard_requests;
};

test("who may read is answered, and may do nothing else", async () => {
  const tablet = await as("tablet", `${HALL}/+/+/response/tablet/#`);
  const request_id = randomUUID();
  expect(await tablet.send(`${RECORDER}/request/read/status`, { request_id, asker: "tablet" })).toBeNull();
  await until(() => expect(tablet.heard).toHaveLength(1));
  expect(tablet.heard[0]).toMatchObject({
    topic: `${RECORDER}/response/tablet/${request_id}`,
    body: { request_id, ok: true, recorder: "paper-box", simulated: true },
  });
  const begin = { request_id: randomUUID(), asker: "tablet" };
  expect(await tablet.send(`${STATION}/request/train/begin`, begin)).toBe(NOT_AUTHORISED);
  // A read verb's topic does not carry an act past the broker.
  expect(await tablet.send(`${STATION}/request/read/begin`, begin)).toBeNull();
  await until(() => expect(tablet.heard).toHaveLength(2));
  expect(tablet.heard[1]?.body).toMatchObject({ ok: false, error: { code: "bad-request" } });
  expect(await running.ask("status", { station: "knee-extension" })).toMatchObject({
    result: { stations: [{ state: { phase: "idle" } }] },
  });
});

test("a right at one station's topic is one to that station", async () => {
  const trainer = await as("trainer", `${HALL}/+/+/response/trainer/#`);
  const asked = { request_id: randomUUID(), asker: "trainer", station: "leg-press" };
  expect(await trainer.send(`${STATION}/request/train/end`, asked)).toBeNull();
  await until(() => expect(trainer.heard).toHaveLength(1));
  expect(trainer.heard[0]?.body).toMatchObject({ ok: false, error: { code: "bad-request" } });
  expect(await trainer.send(`${STATION}/request/train/end`, { request_id: randomUUID(), asker: "trainer" })).toBeNull();
  await until(() => expect(trainer.heard).toHaveLength(2));
  // Carried out, as far as there is something to end.
  expect(trainer.heard[1]?.body).toMatchObject({ error: { message: "No set is set up or running here." } });
});

test("who asks in another's name never sees the answer, and nobody else can write one", async () => {
  const tablet = await as("tablet", `${HALL}/+/+/response/tablet/#`);
  const spy = await as("spy", "#");
  const spoofed = randomUUID();
  const status = `${RECORDER}/request/read/status`;
  expect(await spy.send(status, { request_id: spoofed, asker: "tablet" })).toBeNull();
  await until(() => expect(tablet.heard.map(({ body }) => body["request_id"])).toEqual([spoofed]));
  const own = randomUUID();
  expect(await spy.send(status, { request_id: own, asker: "spy" })).toBeNull();
  // Its own answer has come, which was asked for later; the other's has not.
  await until(() => expect(spy.heard.map(({ topic }) => topic)).toEqual([`${RECORDER}/response/spy/${own}`]));
  expect(await spy.send(`${RECORDER}/response/tablet/${own}`, { ok: true })).toBe(NOT_AUTHORISED);
});

test("a request to be retained is not carried out", async () => {
  const trainer = await as("trainer", `${HALL}/+/+/response/trainer/#`);
  const begin = { request_id: randomUUID(), asker: "trainer", trainee: "wren-21" };
  const before = (await unheard())["retained"] ?? 0;
  expect(await trainer.send(`${STATION}/request/train/begin`, begin, true)).toBeNull();
  await until(async () => expect((await unheard())["retained"]).toBe(before + 1));
  expect(trainer.heard).toEqual([]);
  expect(await running.ask("status", { station: "knee-extension" })).toMatchObject({
    result: { stations: [{ state: { phase: "idle" } }] },
  });
});

test("what stood at the broker before we listened is kept back by it (MQTT 5.0 section 3.8.3.1)", async () => {
  const trainer = await as("trainer", `${HALL}/+/+/response/trainer/#`);
  const filter = "tidemark/hall/station/row/request/train/+";
  const topic = "tidemark/hall/station/row/request/train/end";
  expect(await trainer.send(topic, { stands: true }, true)).toBeNull();
  const password_file = join(folder, "password");
  const { bus } = busAt({ ...realAddress(broker.port), username: "box", password_file });
  const heard: string[] = [];
  bus.listen([filter], (_topic, payload, retained) => heard.push(`${payload} ${retained}`));
  await until(async () => {
    expect(await trainer.send(topic, { passes: true })).toBeNull();
    expect(heard.length).toBeGreaterThan(0);
  });
  expect(new Set(heard)).toEqual(new Set(['{"passes":true} false']));
  await endAll();
});
