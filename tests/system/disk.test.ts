/**
 * The disk fails while people train: full, read-only, damaged, gone. Measuring goes on, it is said, and every set is kept
 * in the end. On a file system of the test's own, with the whole recorder and a simulated gym.
 */
import {
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout } from "node:timers/promises";
import { afterEach, expect, onTestFinished, test } from "vitest";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { SensorMessage } from "../../protocol/messages/station.ts";
import type { CheckpointPart, SetsPage } from "../../recorder/ports.ts";
import { realTime } from "../../recorder/simulated-gym/pace.ts";
import { openStore } from "../../recorder/store/store.ts";
import { configurationIn, type GymService, midSet, startGym, stopAll } from "../recorder/run/gym-service.ts";
import { numbers } from "../recorder/store/invented.ts";
import { SmallCard } from "./small-card.ts";

afterEach(stopAll);

const STATIONS = ["knee-extension", "leg-press", "pull-down"];

function card(size_KiB = 4096): SmallCard {
  const small = new SmallCard(size_KiB);
  onTestFinished(async () => {
    await stopAll();
    small.remove();
  });
  return small;
}

function folder(): string {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-disk-"));
  onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
  return directory;
}

const alarmsOf = (message: object): readonly string[] => (message as SensorMessage).alarms.map(({ code }) => code);

/** The newest word of a station on whether storage is in trouble. */
function storageAlarm(running: GymService, station: string): boolean {
  const newest = running.heard.findLast((event) => event.station === station && event.topic === "sensor");
  return newest !== undefined && alarmsOf(newest.message).includes("storage");
}

async function setsOf(running: GymService): Promise<readonly SetMessage[]> {
  const asked = await running.ask("sets");
  if (!asked.ok) throw new Error(asked.error.message);
  return (asked.result as SetsPage).sets;
}

const finished = (running: GymService): string[] =>
  running.heard
    .filter(({ topic, message }) => topic === "state" && (message as { phase: string }).phase === "finished")
    .map(({ message }) => (message as { set_id: string }).set_id);

/** No number is missing or used twice: the recorder's own revision of a set takes one as well. */
function isNumberedWhole(sets: readonly SetMessage[]): boolean {
  const numbers_used = new Set(sets.map(({ set_seq }) => set_seq));
  const revisions = sets.reduce((sum, { revision }) => sum + revision, 0);
  return numbers_used.size === sets.length && Math.max(...numbers_used) === revisions;
}

/** In no more device time than passes here, so that a set outlasts its checkpoints. */
const asFastAsItIs = () =>
  realTime({ now_ms: () => performance.now(), sleep: (for_ms, signal) => setTimeout(for_ms, undefined, { signal }) });

async function until(what: string, held: () => boolean | Promise<boolean>, within_ms = 40_000): Promise<void> {
  const from_ms = performance.now();
  while (!(await held())) {
    if (performance.now() - from_ms > within_ms) throw new Error(`waited ${within_ms} ms for this in vain: ${what}`);
    await setTimeout(20);
  }
}

test("a card that is full while sets end: they wait, it is said, live goes on, and all are kept once there is space", async () => {
  const small = card();
  const running = await startGym(configurationIn(small.folder));
  small.fill();
  await running.day();
  await until("the alarm at every station", () => STATIONS.every((station) => storageAlarm(running, station)));
  const ended = finished(running);
  expect(new Set(ended).size).toBe(3);
  expect(await setsOf(running)).toEqual([]);
  expect(await running.ask("status")).toMatchObject({ result: { unsaved_sets: 3 } });
  await running.next(({ topic, message }) => topic === "live" && (message as { force_N: unknown }).force_N !== null);
  small.free();
  await until("the alarm is lifted", () => !STATIONS.some((station) => storageAlarm(running, station)));
  const kept = await setsOf(running);
  expect(kept.map(({ set_id }) => set_id).sort()).toEqual([...new Set(ended)].sort());
  expect(isNumberedWhole(kept)).toBe(true);
});

test("a card that is full when the recorder starts, or read-only: one sentence says what would do", async () => {
  const small = card();
  const configuration = configurationIn(small.folder);
  const first = await startGym(configuration);
  await first.service.stop();
  small.fill();
  await expect(startGym(configuration, false)).rejects.toThrow(/the disk is full; make space on it/);
  small.free();
  // A thread that was refused lets go of its files when it ends.
  await until("nobody writes", () => small.remount("ro"));
  await expect(startGym(configuration, false)).rejects.toThrow(/cannot be (written|opened)/);
  small.remount("rw");
  await startGym(configuration, false);
});

test("told to stop in the middle of a set on a card that is full to the last byte: the set goes where room was kept", async () => {
  const small = card();
  const configuration = configurationIn(small.folder);
  const running = await startGym(configuration);
  await until("room is kept", () => existsSync(`${configuration.store.path}.spare`));
  const set_id = await midSet(running);
  small.fill();
  await running.service.stop();
  expect(readdirSync(small.folder).filter((name) => name.includes(".unkept-"))).toEqual([
    expect.stringContaining(set_id),
  ]);
  small.free();
  const again = await startGym(configuration, false);
  await until("it is kept", async () => (await setsOf(again)).length === 1);
  expect(await setsOf(again)).toMatchObject([{ set_id, set_seq: 1, stop_reason: "interrupted", cut_short: true }]);
  await until("room is kept again", () => existsSync(`${configuration.store.path}.spare`));
});

test("told to stop in the middle of a set on a card without any room left: what is lost is said, what was written down is kept", async () => {
  const small = card();
  const configuration = configurationIn(small.folder);
  let checkpoints = 0;
  const running = await startGym(configuration, true, asFastAsItIs(), (store) => {
    const { checkpoint } = store;
    Object.assign(store, {
      checkpoint: async (parts: readonly CheckpointPart[]) => {
        await checkpoint(parts);
        checkpoints += 1;
      },
    });
  });
  const set_id = await midSet(running);
  // It is written down once; what comes after that finds no room.
  const before = checkpoints;
  await until("a checkpoint", () => checkpoints > before);
  rmSync(`${configuration.store.path}.spare`, { force: true });
  small.fill();
  await running.service.stop();
  expect(running.errors).toContainEqual(
    expect.stringMatching(
      /^A set could not be kept before the recorder went, nor put aside \(ENOSPC.*readings since the last checkpoint are lost/,
    ),
  );
  expect(readdirSync(small.folder).filter((name) => name.includes(".unkept-"))).toEqual([]);
  small.free();
  const again = await startGym(configuration, false);
  await until("it is kept", async () => (await setsOf(again)).length === 1);
  expect(await setsOf(again)).toMatchObject([{ set_id, set_seq: 1, stop_reason: "interrupted", cut_short: true }]);
});

test("told to stop while its store is gone, it puts the set beside where it was, and the next start keeps it", async () => {
  const directory = folder();
  const configuration = configurationIn(directory);
  const running = await startGym(configuration);
  const set_id = await midSet(running);
  // Gone under the running recorder: nothing that is written now would be found again.
  renameSync(configuration.store.path, `${configuration.store.path}.elsewhere`);
  await running.service.stop();
  const [aside] = readdirSync(directory).filter((name) => name.includes(".unkept-"));
  expect(aside).toContain(set_id);
  expect(existsSync(configuration.store.path)).toBe(false);
  const again = await startGym(configuration);
  await until("it is kept", async () => (await setsOf(again)).length === 1);
  expect(await setsOf(again)).toMatchObject([{ set_id, set_seq: 1, stop_reason: "interrupted" }]);
  await until("its file is gone", () => !readdirSync(directory).some((name) => name.includes(".unkept-")));
});

test("a store that is deleted while the recorder runs: the alarm stands, and it ends itself once nobody trains", async () => {
  const directory = folder();
  const configuration = configurationIn(directory);
  const running = await startGym(configuration);
  rmSync(configuration.store.path);
  await running.day();
  const why = await running.service.broken;
  expect(why).toMatch(/was moved or deleted while in use/);
  expect(storageAlarm(running, "leg-press")).toBe(true);
  const ended = new Set(finished(running));
  await running.service.stop();
  const again = await startGym(configuration, false);
  await until("all three are kept in the new store", async () => (await setsOf(again)).length === 3);
  expect(new Set((await setsOf(again)).map(({ set_id }) => set_id))).toEqual(ended);
});

test("damage done at random while it was stopped: it records all the same, and what was is aside, whole", async () => {
  const next = numbers(77);
  let moved = 0;
  for (let round = 0; round < 6; round++) {
    const directory = folder();
    const configuration = configurationIn(directory);
    const { path } = configuration.store;
    const before = await startGym(configuration);
    await before.day();
    await before.service.settled();
    await before.service.stop();
    const bytes = readFileSync(path);
    const former = await openStore({ path });
    const { store_id } = former;
    await former.close();
    if (round % 2 === 0) truncateSync(path, Math.floor(next() * bytes.length));
    else {
      for (let flip = 0; flip < 400; flip++)
        bytes.writeUInt8(Math.floor(next() * 256), Math.floor(next() * bytes.length));
      writeFileSync(path, bytes);
    }
    const damaged = readFileSync(path);
    const again = await startGym(configuration);
    await again.day();
    await again.service.settled();
    const sets = await setsOf(again);
    expect(sets.filter(({ boot }) => boot === sets.at(-1)?.boot)).toHaveLength(3);
    const aside = `${path}.damaged-1`;
    if (!existsSync(aside)) continue;
    moved += 1;
    expect(isNumberedWhole(sets)).toBe(true);
    expect(sets[0]?.store).not.toBe(store_id);
    expect(readFileSync(aside).equals(damaged)).toBe(true);
  }
  expect(moved).toBeGreaterThanOrEqual(5);
}, 240_000);
