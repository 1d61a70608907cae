/**
 * The recorder stands still in the middle of a set, 3 s and 20 s, while the board on its tty goes on at its own pace. What
 * waits in the tty is read afterwards and counts as if nothing had been; what the tty could not hold is a gap, said as one,
 * and never a force that was not there.
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { JOINT_REGIONS } from "../../recorder/simulated-gym/fatigue.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { trainee } from "../../recorder/simulated-gym/trainees.ts";
import { Ears } from "./ears.ts";
import { Mosquitto } from "./mosquitto.ts";
import { ACL, calibrateHall, USERS, writeHall } from "./paper-hall.ts";
import { PtyBoard } from "./pty-board.ts";
import { RecorderProcess } from "./recorder-process.ts";

const SEED = 11;
const STATION = "knee-extension";
const STRENGTH_N = 520;
const WREN = trainee("wren-21", STRENGTH_N, JOINT_REGIONS.knee, { style: "hold" });

const folder = mkdtempSync(join(tmpdir(), "tidemark-suspended-"));
const store_path = join(folder, "tidemark.db");
const sockets = { socket: join(folder, "c", "c.sock"), service_socket: join(folder, "c", "s.sock") };
const base = gymConfiguration({ store: store_path, ...sockets, port: 0 });
const hall = { ...base, station: base.station.filter(({ id }) => id === STATION) };
const gym = new SimulatedGym(stationsOf(hall, SEED), SEED);
const board = new PtyBoard(join(folder, "tty"), gym.station(STATION), 1);
const broker = new Mosquitto();
const recorder = new RecorderProcess(join(folder, "tidemark.toml"));
let ears: Ears;

beforeAll(async () => {
  await broker.start({ users: USERS, acl: ACL });
  const stations = [{ id: STATION, serial_port: board.path, board: "knee-1" }];
  writeHall({ folder, store: store_path, control: sockets, broker_port: broker.port, stations });
  await calibrateHall(hall, SEED);
  ears = new Ears(broker.port, "display", USERS.display, ["tidemark/#"]);
  await ears.ready;
  await board.plug();
  await recorder.start();
});

afterAll(async () => {
  await recorder.stop();
  await board.unplug();
  await ears?.close();
  await broker.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** The first message on a topic, among those from number `from` on, that is as wanted. */
async function heard<Message>(topic: string, wanted: (message: Message) => boolean, from = 0): Promise<Message> {
  for (let waited_ms = 0; waited_ms < 90_000; waited_ms += 20) {
    for (const one of ears.heard.slice(from)) {
      if (!one.topic.endsWith(`/${topic}`) || one.payload === "") continue;
      const message = JSON.parse(one.payload) as Message;
      if (wanted(message)) return message;
    }
    await pause(20);
  }
  throw new Error(`waited 90 s for ${topic}; the recorder's log ends:\n${recorder.log.slice(-2000)}`);
}

interface Live {
  readonly set_id: string | null;
  readonly elapsed_s: number | null;
  readonly best_force_N: number | null;
  readonly max_force_N: number | null;
  readonly min_force_N: number | null;
}

/** Begins a hold and has it run for four seconds. */
async function holding(loss_percent: number): Promise<string> {
  const from = ears.heard.length;
  gym.station(STATION).sit(null);
  await heard<Live>("live", ({ max_force_N }) => max_force_N !== null && max_force_N < 20, from);
  const words = ["begin", STATION, "--trainee", "wren-21", "--loss", String(loss_percent)];
  let set_id: string | null = null;
  // Two seconds of readings make a rate, and a rate is asked for.
  while (set_id === null) {
    set_id = await recorder.ask(...words).then(
      (result) => result["set_id"] as string,
      () => pause(200, null),
    );
  }
  gym.station(STATION).sit(WREN);
  await heard<Live>(
    "live",
    (live) => live.set_id === set_id && live.best_force_N !== null && (live.elapsed_s ?? 0) > 4,
  );
  return set_id;
}

function noForceThatWasNotThere(from: number): void {
  const forces = ears.heard
    .slice(from)
    .filter(({ topic }) => topic.endsWith("/live"))
    .flatMap(({ payload }) => {
      const { min_force_N, max_force_N } = JSON.parse(payload) as Live;
      return [min_force_N, max_force_N].filter((force) => force !== null);
    });
  expect(forces.length).toBeGreaterThan(50);
  expect(Math.max(...forces)).toBeLessThan(1.1 * STRENGTH_N);
  expect(Math.min(...forces)).toBeGreaterThan(-20);
}

test("3 s in the middle of a set: everything waits in the tty, and the set ends as it would have", async () => {
  const set_id = await holding(20);
  await recorder.suspend(3000);
  const set = await heard<SetMessage>("set", (message) => message.set_id === set_id);
  expect(set).toMatchObject({ stop_reason: "hold-below-floor", cut_short: false, reached_threshold: true });
  expect(set.quality).toMatchObject({ readings_lost: 0, lines_rejected: 0 });
  expect(set.force_loss).toBeGreaterThan(0.2);
  expect(set.force_loss).toBeLessThan(0.24);
  noForceThatWasNotThere(0);
}, 180_000);

test("20 s, longer than the broker waits: what was lost is said, no force is made up, and the next set runs", async () => {
  const from = ears.heard.length;
  const set_id = await holding(60);
  await recorder.suspend(20_000);
  await pause(3000);
  await recorder.ask("end", STATION).catch(() => {});
  const set = await heard<SetMessage>("set", (message) => message.set_id === set_id);
  const { readings_lost } = set.quality;
  console.log(`after 20 s: ${readings_lost} readings lost, ${set.stop_reason}, ${set.duration_s} s`);
  // Lost readings of over a second end a set as a fault of the sensor; without loss it goes on to what ends it otherwise.
  if (readings_lost > 80) expect(set).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
  else expect(set.duration_s).toBeGreaterThan(20);
  expect(set.best_force_N).toBeLessThan(1.1 * STRENGTH_N);
  noForceThatWasNotThere(from);
  await holding(20);
}, 240_000);
