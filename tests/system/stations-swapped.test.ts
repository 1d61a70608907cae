/**
 * Which board is on which station, on real ttys: the recorder's own links, boards that are swapped between two of them, links
 * of the file system that lead elsewhere after a replug, and a second link to a device that is open.
 */
import { randomUUID } from "node:crypto";
import { mkdirSync, mkdtempSync, rmSync, symlinkSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pino } from "pino";
import { afterAll, beforeAll, expect, test } from "vitest";
import { type Service, startService } from "../../recorder/run/service.ts";
import { openHardwarePort } from "../../recorder/serial/hardware-port.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { calibrationsOf, gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { PtyBoard } from "./pty-board.ts";

const SEED = 3;
const folder = mkdtempSync(join(tmpdir(), "tidemark-swapped-"));
const base = gymConfiguration({
  store: join(folder, "tidemark.db"),
  socket: join(folder, "control", "c.sock"),
  service_socket: join(folder, "control", "s.sock"),
  port: 0,
});
const port = (name: string): string => join(folder, "dev", name);
const byId = (id: string): string => join(folder, "by-id", id);
const STATIONS = ["left", "right"] as const;
type Id = (typeof STATIONS)[number];
const configuration = {
  ...base,
  station: STATIONS.flatMap((id) =>
    base.station
      .filter(({ exercise }) => exercise === "knee-extension")
      .map((model) => ({ ...model, id, board: `board-${id}`, serial_port: byId(id) })),
  ),
};
const gym = new SimulatedGym(stationsOf(configuration, SEED), SEED);
const boards = { left: board("left"), right: board("right") };

function board(id: Id): PtyBoard {
  return new PtyBoard(port(id), gym.station(id), 1);
}

interface SensorBody {
  readonly ready: boolean;
  readonly force_N: number | null;
  readonly board: string | null;
  readonly alarms: readonly { readonly code: string; readonly detail: string }[];
}

let service: Service;
const newest = new Map<string, SensorBody>();
const waiting = new Set<() => void>();
/** What stood in `live` while a board was refused. */
const forces_N: { readonly station: string; readonly force_N: number | null; readonly alarmed: boolean }[] = [];

const alarmOf = (id: Id): string => newest.get(id)?.alarms.find(({ code }) => code === "sensor-fault")?.detail ?? "";

function until(holds: () => boolean): Promise<void> {
  return new Promise((resolve) => {
    const look = (): void => {
      if (!holds()) return;
      waiting.delete(look);
      resolve();
    };
    waiting.add(look);
    look();
  });
}

/** As udev does it when an adapter comes: the name stays, what it leads to is new. */
function leads(id: Id, name: string): void {
  rmSync(byId(id), { force: true });
  symlinkSync(port(name), byId(id));
}

beforeAll(async () => {
  for (const name of ["dev", "by-id", "control"]) mkdirSync(join(folder, name), { mode: 0o750 });
  leads("left", "left");
  leads("right", "right");
  await boards.left.plug();
  await boards.right.plug();
  const started = await startService({
    configuration,
    simulated: true,
    log: pino({ level: "silent" }),
    async prepare(store) {
      const when = { now_ms: Date.now(), days_ago: 3, ids: STATIONS.map(() => randomUUID()) };
      for (const record of calibrationsOf(configuration, when, SEED)) await store.saveCalibration(record);
    },
  });
  if (!started.ok) throw new Error(started.message);
  service = started.service;
  service.watch(({ station, topic, message }) => {
    if (topic === "sensor") newest.set(station, message as unknown as SensorBody);
    if (topic === "live") {
      const { force_N } = message as unknown as SensorBody;
      forces_N.push({ station, force_N, alarmed: /cables are swapped/.test(alarmOf(station as Id)) });
    }
    for (const look of [...waiting]) look();
  });
});

afterAll(async () => {
  await service.stop();
  await boards.left.unplug();
  await boards.right.unplug();
  rmSync(folder, { recursive: true, force: true });
});

test("swapped boards are both refused, each with the station it belongs to; swapped back, both are well", {
  timeout: 120_000,
}, async () => {
  const well = () =>
    (["left", "right"] as const).every((id) => typeof newest.get(id)?.force_N === "number" && alarmOf(id) === "");
  const swap = async (left: "left" | "right", right: "left" | "right"): Promise<void> => {
    await boards.left.unplug();
    await boards.right.unplug();
    leads("left", left);
    leads("right", right);
    await boards.left.plug();
    await boards.right.plug();
  };
  await until(well);
  await swap("right", "left");
  await until(() => /cables are swapped/.test(alarmOf("left")) && /cables are swapped/.test(alarmOf("right")));
  expect(alarmOf("left")).toBe(
    "This is board-right, the board of the station right; this station's is board-left: the cables are swapped, put each where it belongs.",
  );
  expect(alarmOf("right")).toMatch(/^This is board-left, the board of the station left; this station's is board-right/);
  const from = forces_N.length;
  await until(() => forces_N.length > from + 40);
  expect(forces_N.filter(({ force_N, alarmed }) => alarmed && force_N !== null)).toEqual([]);

  await swap("left", "right");
  await until(well);
});

test("a link that leads elsewhere after a replug is followed at the next open", async () => {
  const moved = new PtyBoard(port("moved"), gym.station("left"), 1);
  await boards.left.unplug();
  leads("left", "moved");
  await moved.plug();
  await until(() => newest.get("left")?.board === "board-left" && alarmOf("left") === "");
  await moved.unplug();
});

test("a device is free for another path once it is closed", async () => {
  const spare = new PtyBoard(port("spare"), gym.station("right"), 1);
  await spare.plug();
  symlinkSync(port("spare"), byId("spare"));
  const first = await openHardwarePort(port("spare"));
  await expect(openHardwarePort(byId("spare"))).rejects.toThrow(/the same device as/);
  await new Promise((resolve) => first.once("close", resolve).destroy());
  const second = await openHardwarePort(byId("spare"));
  await new Promise((resolve) => second.once("close", resolve).destroy());
  await spare.unplug();
});
