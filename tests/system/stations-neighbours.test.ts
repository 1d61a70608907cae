/**
 * The built recorder over six ttys and a path that is not there: one in flood, one that sends whole lines a hundred times as
 * fast as it should, one silent, one that is another board than it should be, and two that are well. People train at the two:
 * their sets end, arrive and are kept, none of their readings is lost, and their live values come as they should.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { closeSync, constants, mkdtempSync, openSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { LiveMessage, SensorMessage, StateMessage } from "../../protocol/messages/station.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { trainee } from "../../recorder/simulated-gym/trainees.ts";
import { Ears } from "./ears.ts";
import { Mosquitto } from "./mosquitto.ts";
import { ACL, calibrateHall, USERS, writeHall } from "./paper-hall.ts";
import { PtyBoard } from "./pty-board.ts";
import { RecorderProcess } from "./recorder-process.ts";

const SEED = 17;
const WELL = ["well-1", "well-2"] as const;
const STATIONS = [...WELL, "flooding", "quick", "silent", "lying", "dead"] as const;
type Id = (typeof STATIONS)[number];
const LIVE_RATE_HZ = 10;
/** Loses a fifth of its strength in some ten seconds. */
const SPENT_SOON = { F_per_s: 0.03, R_per_s: 0.002, rest_multiplier: 15 };

const folder = mkdtempSync(join(tmpdir(), "tidemark-neighbours-"));
const tty = (id: Id): string => join(folder, `tty-${id}`);
const paths = {
  store: join(folder, "tidemark.db"),
  socket: join(folder, "c", "c.sock"),
  service_socket: join(folder, "c", "s.sock"),
};
const base = gymConfiguration({ ...paths, port: 0 });
const hall = {
  ...base,
  station: STATIONS.flatMap((id) =>
    base.station
      .filter(({ exercise }) => exercise === "knee-extension")
      .map((model) => ({ ...model, id, board: id === "lying" ? "board-elsewhere" : `board-${id}` })),
  ),
};
const gym = new SimulatedGym(stationsOf(hall, SEED), SEED);
const boards = ([...WELL, "lying", "quick"] as const).map(
  (id) => new PtyBoard(tty(id), gym.station(id), id === "quick" ? 100 : 1),
);
const broker = new Mosquitto();
const recorder = new RecorderProcess(join(folder, "tidemark.toml"));
/** No board at their far end: a program's output, or nothing. */
const others: { readonly socat: ChildProcess; readonly held: number }[] = [];
let ears: Ears;

async function plugProgram(id: Id, program: string): Promise<void> {
  const socat = spawn("socat", ["-u", `EXEC:${program}`, `PTY,link=${tty(id)},raw,echo=0`], { stdio: "ignore" });
  await once(socat, "spawn");
  for (let held: number | null = null; held === null; ) {
    try {
      // Held open, as an adapter stays where it is when a program closes it; a bare pty would hang up.
      held = openSync(tty(id), constants.O_RDWR | constants.O_NOCTTY);
      others.push({ socat, held });
    } catch {
      await pause(5);
    }
  }
}

beforeAll(async () => {
  await broker.start({ users: USERS, acl: ACL });
  const more = `live_rate_Hz = ${LIVE_RATE_HZ}`;
  const stations = STATIONS.map((id) => ({ id, serial_port: tty(id), board: `board-${id}`, more }));
  writeHall({ folder, store: paths.store, control: paths, broker_port: broker.port, stations });
  await calibrateHall(hall, SEED);
  ears = new Ears(broker.port, "display", USERS.display, ["tidemark/#"]);
  await ears.ready;
  for (const board of boards) await board.plug();
  await plugProgram("flooding", `yes ${"x".repeat(200)}`);
  await plugProgram("silent", "sleep 600");
  await recorder.start();
});

afterAll(async () => {
  await recorder.stop();
  for (const board of boards) await board.unplug();
  for (const { socat, held } of others) {
    closeSync(held);
    socat.kill("SIGTERM");
  }
  await ears?.close();
  await broker.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** What a station has said on a topic, from number `from` of all that was heard. */
function said<Message>(id: Id, topic: string, from = 0): { readonly message: Message; readonly at_ms: number }[] {
  return ears.heard
    .slice(from)
    .filter(({ topic: name, payload }) => name.endsWith(`/station/${id}/${topic}`) && payload !== "")
    .map(({ payload, at_ms }) => ({ message: JSON.parse(payload) as Message, at_ms }));
}

async function until(what: string, holds: () => boolean, within_ms = 40_000): Promise<void> {
  const from_ms = performance.now();
  while (!holds()) {
    if (performance.now() - from_ms > within_ms)
      throw new Error(`waited in vain: ${what}; the recorder's log ends:\n${recorder.log.slice(-2000)}`);
    await pause(50);
  }
}

const ready = (id: Id, from = 0): boolean => said<SensorMessage>(id, "sensor", from).at(-1)?.message.ready === true;
const faultOf = (id: Id): string =>
  said<SensorMessage>(id, "sensor")
    .at(-1)
    ?.message.alarms.find(({ code }) => code === "sensor-fault")?.detail ?? "";

test("two people train beside five lines in trouble as if they were alone", async () => {
  await until("both are ready", () => WELL.every((id) => ready(id)));
  await until("each of the others is in trouble of its kind", () => {
    const troubles = [faultOf("flooding"), faultOf("silent"), faultOf("lying"), faultOf("dead")];
    const kinds = [/far more than a board|not text/, /nothing has come/, /board-elsewhere/, /is not there/];
    return kinds.every((kind, index) => kind.test(troubles[index] as string));
  });

  const begun = await Promise.all(
    WELL.map((id) => recorder.ask("begin", id, "--trainee", "wren-21", "--loss", "20").then((set) => set["set_id"])),
  );
  const from = ears.heard.length;
  const from_ms = performance.now();
  for (const id of WELL) gym.station(id).sit(trainee("wren-21", 520, SPENT_SOON, { style: "hold" }));
  await until("both sets arrive", () => WELL.every((id) => said(id, "set", from).length > 0));
  const lasted_s = (performance.now() - from_ms) / 1000;

  const sets = WELL.map((id) => said<SetMessage>(id, "set", from)[0]?.message as SetMessage);
  expect(sets.map(({ set_id }) => set_id)).toEqual(begun);
  for (const { stop_reason, reached_threshold, force_loss, quality } of sets) {
    expect({ stop_reason, reached_threshold }).toEqual({ stop_reason: "hold-below-floor", reached_threshold: true });
    expect(quality).toMatchObject({ readings_lost: 0, lines_rejected: 0 });
    expect(force_loss).toBeGreaterThan(0.2);
  }

  const rates_Hz = WELL.map((id) => said(id, "live", from).length / lasted_s);
  const gaps_ms = WELL.map((id) => {
    const at_ms = said<LiveMessage>(id, "live", from).map((one) => one.at_ms);
    return Math.max(...at_ms.slice(1).map((at, index) => at - (at_ms[index] as number)));
  });
  const quick = said<LiveMessage>("quick", "live", from).length / lasted_s;
  console.info(
    `beside five in trouble: ${rates_Hz.map((rate) => rate.toFixed(1)).join(" and ")} live values a second over ` +
      `${lasted_s.toFixed(1)} s, at most ${gaps_ms.map((gap) => gap.toFixed(0)).join(" and ")} ms apart; ` +
      `the quick one ${quick.toFixed(0)} a second`,
  );
  for (const rate_Hz of rates_Hz) {
    expect(rate_Hz).toBeGreaterThan(0.9 * LIVE_RATE_HZ);
    expect(rate_Hz).toBeLessThan(1.1 * LIVE_RATE_HZ);
  }
  // Served, and measured, and more of it than anybody would ask for.
  expect(quick).toBeGreaterThan(5 * LIVE_RATE_HZ);
  for (const id of ["flooding", "silent", "lying", "dead"] as const) {
    expect(
      said<LiveMessage>(id, "live").filter(({ message }) => message.force_N !== null),
      id,
    ).toEqual([]);
  }
  const { sets: kept } = (await recorder.ask("sets")) as unknown as { sets: SetMessage[] };
  expect(kept.map(({ set_id }) => set_id).sort()).toEqual([...begun].sort());
}, 90_000);

test("told to stop among them it leaves in time, and started again it goes on", async () => {
  const { code, took_ms } = await recorder.stop();
  expect(code).toBe(0);
  expect(took_ms).toBeLessThan(5000);
  for (const id of WELL) gym.station(id).sit(null);
  const from = ears.heard.length;
  await recorder.start();
  await until("both are ready again", () => WELL.every((id) => ready(id, from)));
  await until("their state is said", () => WELL.every((id) => said<StateMessage>(id, "state", from).length > 0));
  const { sets: kept } = (await recorder.ask("sets")) as unknown as { sets: SetMessage[] };
  expect(kept).toHaveLength(WELL.length);
}, 60_000);
