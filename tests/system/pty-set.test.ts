/**
 * The whole path on real things: a tty, the built recorder, a real broker with passwords and rights, a subscriber.
 * Time runs five times as fast on the board's side; everything that is decided, is decided in its time.
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { connectAsync, type MqttClient } from "mqtt";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { JOINT_REGIONS } from "../../recorder/simulated-gym/fatigue.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { trainee } from "../../recorder/simulated-gym/trainees.ts";
import { validateMessage } from "../protocol/messages/validate.ts";
import { Mosquitto } from "./mosquitto.ts";
import { ACL, calibrateHall, USERS, writeHall } from "./paper-hall.ts";
import { PtyBoard } from "./pty-board.ts";
import { RecorderProcess } from "./recorder-process.ts";

const SPEED = 5;
const SEED = 11;
const STATION = "knee-extension";
const WREN = trainee("wren-21", 520, JOINT_REGIONS.knee, { style: "hold" });

const folder = mkdtempSync(join(tmpdir(), "tidemark-system-"));
const broker = new Mosquitto();
const base = gymConfiguration({
  store: join(folder, "tidemark.db"),
  socket: join(folder, "c.sock"),
  service_socket: join(folder, "s.sock"),
  port: 0,
});
const station = base.station.filter(({ id }) => id === STATION);
const gym = new SimulatedGym(stationsOf({ ...base, station }, SEED), SEED);
const board = new PtyBoard(join(folder, "tty"), gym.station(STATION), SPEED);
const recorder = new RecorderProcess(join(folder, "tidemark.toml"));

const heard: { readonly topic: string; readonly payload: string; readonly at_ms: number }[] = [];
let display: MqttClient;

beforeAll(async () => {
  await broker.start({ users: USERS, acl: ACL });
  const control = {
    socket: join(folder, "control", "control.sock"),
    service_socket: join(folder, "control", "service.sock"),
  };
  const more = "fatigue_threshold_percent = 20";
  const stations = [{ id: STATION, serial_port: board.path, board: "knee-1", more }];
  writeHall({ folder, store: base.store.path, control, broker_port: broker.port, stations });
  await calibrateHall({ ...base, station }, SEED);
  display = await connectAsync(`mqtt://127.0.0.1:${broker.port}`, {
    username: "display",
    password: USERS.display,
    protocolVersion: 5,
  });
  display.on("message", (topic, payload) =>
    heard.push({ topic, payload: payload.toString(), at_ms: performance.now() }),
  );
  await display.subscribeAsync("tidemark/#", { qos: 1 });
  await board.plug();
  await recorder.start();
  await state((message) => message["phase"] === "idle");
});

afterAll(async () => {
  await recorder.stop();
  await board.unplug();
  await display.endAsync(true);
  await broker.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** Waits for what is newest on a topic to be as wanted. */
async function until(topic: string, wanted: (message: Record<string, unknown>) => boolean, from = 0) {
  const address = `tidemark/paper-hall/station/${STATION}/${topic}`;
  for (let waited_ms = 0; waited_ms < 20_000; waited_ms += 5) {
    const found = heard.slice(from).findLast((message) => message.topic === address);
    const message = found === undefined ? null : (JSON.parse(found.payload) as Record<string, unknown>);
    if (found !== undefined && message !== null && wanted(message)) return { message, at_ms: found.at_ms };
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
  throw new Error(
    `waited 20 s for ${topic} among ${heard.length} messages, the last ${heard.at(-1)?.topic}; the recorder's log ends:\n${recorder.log.slice(-2000)}`,
  );
}
const state = (wanted: (message: Record<string, unknown>) => boolean, from = 0) => until("state", wanted, from);
const live = (wanted: (message: Record<string, unknown>) => boolean, from = 0) => until("live", wanted, from);

async function begin(loss_percent = 20): Promise<string> {
  // Two seconds of readings make a rate, and a rate is asked for.
  for (let waited_ms = 0; ; waited_ms += 100) {
    try {
      const words = ["begin", STATION, "--trainee", "wren-21", "--loss", String(loss_percent)];
      const { set_id } = await recorder.ask(...words);
      return set_id as string;
    } catch (error) {
      const { stdout = "" } = error as { stdout?: string };
      if (!stdout.includes("sensor-fault")) throw error;
      if (waited_ms > 20_000)
        throw new Error(`no begin within 20 s: ${stdout}; the recorder's log ends:\n${recorder.log.slice(-2000)}`);
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
  }
}

test("a set on a tty ends by itself, is kept, and reaches a subscriber of a real broker", async () => {
  await live((message) => message["force_N"] !== null);
  gym.station(STATION).sit(WREN);
  const set_id = await begin();
  const { message } = await until("set", (set) => set["set_id"] === set_id);
  const set = message as unknown as SetMessage;
  expect(set).toMatchObject({ stop_reason: "hold-below-floor", trainee: "wren-21", simulated: false, set_seq: 1 });
  // The stop comes once the smoothed force has been below the floor for the grace: a little deeper than asked.
  expect(set.force_loss).toBeGreaterThan(0.2);
  expect(set.force_loss).toBeLessThan(0.24);
  expect(board.heard).toMatch(/^L,\d+,2,on\*/m);
  const latest = await until("latest-set", (newest) => newest["set_id"] === set_id);
  expect(latest.message).toEqual(message);
  await state((newest) => newest["phase"] === "finished" && newest["stop_reason"] === "hold-below-floor");
  const { sets } = (await recorder.ask("sets")) as unknown as { sets: SetMessage[] };
  expect(sets[0]).toEqual(message);
  gym.station(STATION).sit(null);
});

test("a late subscriber finds state, sensor, latest set and presence, and no live value", async () => {
  const late = await connectAsync(`mqtt://127.0.0.1:${broker.port}`, {
    username: "display",
    password: USERS.display,
    protocolVersion: 5,
  });
  const retained = new Map<string, boolean>();
  late.on("message", (topic, _payload, packet) => retained.set(topic.split("/").at(-1) as string, packet.retain));
  await late.subscribeAsync("tidemark/#", { qos: 1 });
  while (retained.size < 5) await new Promise((resolve) => setTimeout(resolve, 20));
  await late.endAsync(true);
  expect(Object.fromEntries(retained)).toEqual({
    state: true,
    sensor: true,
    "latest-set": true,
    presence: true,
    live: false,
  });
});

test("the plug pulled in the middle of a set, 100 times: the set is kept as far as it got, and readings come back", async () => {
  const recovered_ms: number[] = [];
  const rounds = 100;
  for (let round = 0; round < rounds; round++) {
    gym.station(STATION).sit(WREN);
    const set_id = await begin();
    await live((message) => message["set_id"] === set_id && message["best_force_N"] !== null);
    await board.unplug();
    const { message } = await until("set", (set) => set["set_id"] === set_id);
    expect(message).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
    gym.station(STATION).sit(null);
    const from = heard.length;
    const began_ms = performance.now();
    await board.plug();
    const back = await live((value) => value["force_N"] !== null, from);
    recovered_ms.push(back.at_ms - began_ms);
  }
  recovered_ms.sort((a, b) => a - b);
  const at = (share: number): number => Math.round(recovered_ms[Math.ceil(share * rounds) - 1] as number);
  console.log(`readings back after replugging: median ${at(0.5)} ms, 95 % ${at(0.95)} ms, longest ${at(1)} ms`);
  expect(at(1)).toBeLessThan(10_000);
  const { sets } = (await recorder.ask("sets", "--limit", "200")) as unknown as { sets: SetMessage[] };
  // The first one may have a revision by now, which takes a number of its own.
  expect(new Set(sets.map(({ set_seq }) => set_seq)).size).toBe(rounds + 1);
  expect(sets.reduce((sum, { revision }) => sum + revision, 0)).toBe(Math.max(...sets.map(({ set_seq }) => set_seq)));
}, 900_000);

test("told to stop in the middle of a set, it keeps the set and leaves within 5 s; started again, it goes on", async () => {
  gym.station(STATION).sit(WREN);
  const set_id = await begin();
  await live((message) => message["set_id"] === set_id && message["best_force_N"] !== null);
  const { code, took_ms } = await recorder.stop();
  expect(code).toBe(0);
  expect(took_ms).toBeLessThan(5000);
  const presence = heard.findLast(({ topic }) => topic.endsWith("/presence"));
  expect(JSON.parse(presence?.payload ?? "{}")).toMatchObject({ online: false, reason: "stop" });
  const from = heard.length;
  await recorder.start();
  const { message } = await until("latest-set", (set) => set["set_id"] === set_id, from);
  expect(message).toMatchObject({ stop_reason: "interrupted", cut_short: true });
});

test("killed in the middle of a set, it keeps what the last checkpoint held", async () => {
  gym.station(STATION).sit(null);
  await live((message) => message["force_N"] !== null, heard.length);
  gym.station(STATION).sit(WREN);
  const set_id = await begin(60);
  await live((message) => message["set_id"] === set_id && message["best_force_N"] !== null);
  // Longer than the five seconds between checkpoints.
  await new Promise((resolve) => setTimeout(resolve, 6000));
  await recorder.stop("SIGKILL");
  await recorder.start();
  const { message } = await until("set", (set) => set["set_id"] === set_id);
  expect(message).toMatchObject({ stop_reason: "interrupted", cut_short: true });
  expect(message["duration_s"]).toBeGreaterThan(2);
});

test("every message of all this is valid", () => {
  const faults = heard.flatMap(({ topic, payload }) => {
    const name = topic.split("/").at(-1) as string;
    return payload === ""
      ? []
      : validateMessage(name as never, JSON.parse(payload)).map((fault) => `${topic}: ${fault}`);
  });
  expect(heard.length).toBeGreaterThan(500);
  expect(faults).toEqual([]);
});
