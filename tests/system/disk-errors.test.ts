/**
 * The disk fails under the built recorder while somebody trains. For a while each sync of it gives EIO: sets wait and are
 * kept once it works again. Its content is written over: the recorder ends itself with 1 once the set is over, and the
 * next start moves the file aside, keeps the set, and goes on.
 */

import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { closeSync, existsSync, mkdtempSync, openSync, readdirSync, rmSync, statSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { DatabaseSync } from "@photostructure/sqlite";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Verb } from "../../protocol/requests/verbs.ts";
import { ask } from "../../recorder/cli/client.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { trainee } from "../../recorder/simulated-gym/trainees.ts";
import { calibrateHall, writeHall } from "./paper-hall.ts";
import { PtyBoard } from "./pty-board.ts";
import { RecorderProcess } from "./recorder-process.ts";

const SEED = 23;
const STATION = "knee-extension";
const SPEED = 3;
const WREN = trainee("wren-21", 520, { F_per_s: 0.03, R_per_s: 0.002, rest_multiplier: 15 }, { style: "hold" });

const folder = mkdtempSync(join(tmpdir(), "tidemark-disk-errors-"));
const store_path = join(folder, "tidemark.db");
const sockets = { socket: join(folder, "c", "c.sock"), service_socket: join(folder, "c", "s.sock") };
const base = gymConfiguration({ store: store_path, ...sockets, port: 0 });
const hall = { ...base, station: base.station.filter(({ id }) => id === STATION) };
const gym = new SimulatedGym(stationsOf(hall, SEED), SEED);
const board = new PtyBoard(join(folder, "tty"), gym.station(STATION), SPEED);
const recorder = new RecorderProcess(join(folder, "tidemark.toml"));

beforeAll(async () => {
  const stations = [{ id: STATION, serial_port: board.path, board: "knee-1" }];
  writeHall({ folder, store: store_path, control: sockets, broker_port: null, stations });
  await calibrateHall(hall, SEED);
  await board.plug();
  await recorder.start();
});

afterAll(async () => {
  await recorder.stop();
  await board.unplug();
  rmSync(folder, { recursive: true, force: true });
});

interface Status {
  readonly unsaved_sets: number;
  readonly stations: readonly {
    readonly state: { readonly phase: string };
    readonly sensor: { readonly ready: boolean; readonly alarms: readonly { readonly code: string }[] };
  }[];
}

async function status(what: string, wanted: (now: Status) => boolean): Promise<void> {
  const from_ms = performance.now();
  while (performance.now() - from_ms < 60_000 && recorder.runs) {
    // Not up yet, or busy with its end.
    const reply = await ask({ path: sockets.socket, verb: "status", args: {} });
    if (reply.ok && wanted(reply.result as Status)) return;
    await pause(100);
  }
  throw new Error(`waited in vain: ${what}; the recorder's log ends:\n${recorder.log.slice(-2000)}`);
}
const phase = ({ stations }: Status): string | undefined => stations[0]?.state.phase;
const isAlarmed = ({ stations }: Status): boolean =>
  stations[0]?.sensor.alarms.some(({ code }) => code === "storage") ?? false;

/** Begins a hold; whoever holds is soon spent. */
async function hold(): Promise<string> {
  gym.station(STATION).sit(null);
  await status("it is ready", ({ stations }) => stations[0]?.sensor.ready === true);
  const args = { station: STATION, trainee: "wren-21", fatigue_threshold: 0.4 };
  const begun = await answer<{ set_id: string }>("begin", args);
  gym.station(STATION).sit(WREN);
  return begun.set_id;
}

async function answer<Result>(verb: Verb, args: object = {}): Promise<Result> {
  const reply = await ask({ path: sockets.socket, verb, args });
  if (!reply.ok) throw new Error(reply.failure.message);
  return reply.result as Result;
}

const sets = async (): Promise<readonly SetMessage[]> => (await answer<{ sets: readonly SetMessage[] }>("sets")).sets;

/** Each revision has used up one number; the recorder's own comes once the station is at rest. */
const isNumberedWhole = async (): Promise<boolean> =>
  (await sets()).every(({ set_seq, revision }) => set_seq === revision);

/** From now on each sync of the process fails, as that of a card does that has come loose: strace(1), --inject. */
async function loosen(pid: number): Promise<ChildProcess> {
  const calls = "fsync,fdatasync";
  const strace = spawn(
    "strace",
    ["-f", "-p", String(pid), "-o", "/dev/null", "-e", `trace=${calls}`, "-e", `inject=${calls}:error=EIO`],
    { stdio: ["ignore", "ignore", "pipe"] },
  );
  let said = "";
  for await (const bytes of strace.stderr) {
    said += String(bytes);
    if (said.includes("attached")) return strace;
  }
  throw new Error(`strace must be allowed to trace here: ${said}`);
}

test("each sync gives EIO while a set ends: it waits, that is said, and it is kept once the disk works again", async () => {
  const set_id = await hold();
  const strace = await loosen(recorder.pid);
  try {
    await status("the set waits, and the alarm stands", (now) => now.unsaved_sets === 1 && isAlarmed(now));
    expect(await sets()).toEqual([]);
  } finally {
    const gone = once(strace, "exit");
    strace.kill("SIGINT");
    await gone;
  }
  await status("it is kept, and the alarm is lifted", (now) => now.unsaved_sets === 0 && !isAlarmed(now));
  expect(await sets()).toMatchObject([{ set_id, stop_reason: "hold-below-floor" }]);
  expect(await isNumberedWhole()).toBe(true);
}, 120_000);

/** Writes over all of the file and of its log, where they are. */
function damage(): void {
  // What the recorder has read it need not read again, before somebody else has written: as after a day, when other
  // pages have taken the place of these in its memory.
  const visitor = new DatabaseSync(store_path);
  visitor.exec("CREATE TABLE visited (by TEXT); DROP TABLE visited");
  for (const path of [store_path, `${store_path}-wal`]) {
    const file = openSync(path, "r+");
    writeSync(file, Buffer.alloc(statSync(path).size, "damage"));
    closeSync(file);
  }
  visitor.close();
}

test("its content is written over: it ends with 1 between sets, and the next start keeps the set in a new store", async () => {
  await status("nobody is on", (now) => phase(now) !== "working");
  const set_id = await hold();
  await status("somebody holds", (now) => phase(now) === "working");
  damage();
  const stays = pause(60_000, "it stays", { ref: false });
  expect(await Promise.race([recorder.ended, stays]), recorder.log.slice(-2000)).toBe(1);
  expect(recorder.log).toMatch(/"level":"fatal".*the file is damaged.*restart the recorder/);
  const [aside] = readdirSync(folder).filter((name) => name.includes(".unkept-"));
  expect(aside).toContain(set_id);

  const from = recorder.log.length;
  gym.station(STATION).sit(null);
  await recorder.start();
  await status("it is kept", ({ unsaved_sets }) => unsaved_sets === 0);
  // The end that was measured, and not the end of the recorder.
  expect(await sets()).toMatchObject([{ set_id, stop_reason: "hold-below-floor", cut_short: false }]);
  expect(await isNumberedWhole()).toBe(true);
  expect(existsSync(`${store_path}.damaged-1`)).toBe(true);
  expect(recorder.log.slice(from)).toMatch(/was damaged .* it is now .*damaged-1, and a new, empty one was begun/);
  expect(readdirSync(folder).filter((name) => name.includes(".unkept-"))).toEqual([]);

  const next = await hold();
  await status("it goes on", (now) => phase(now) === "finished" && now.unsaved_sets === 0);
  expect((await sets()).map((set) => set.set_id)).toEqual(expect.arrayContaining([set_id, next]));
}, 120_000);
