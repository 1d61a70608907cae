/**
 * kill -9 during backups and restores at moments drawn from a fixed seed: the file of a backup is whole or not there, the store
 * keeps every set meanwhile, and a recorder that is restarted has all sets of the former store or all of the backup. And a
 * disk that is full. TIDEMARK_LONG=1 goes on for ten times as long.
 */
import { type ChildProcess, fork } from "node:child_process";
import { once } from "node:events";
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { afterAll, beforeAll, expect, onTestFinished, test } from "vitest";
import { ask } from "../../recorder/cli/client.ts";
import { doApart } from "../../recorder/store/backup-apart.ts";
import { NotDone } from "../../recorder/store/backup-trouble.ts";
import { prepareRestore } from "../../recorder/store/restore-prepare.ts";
import { openTables } from "../../recorder/store/tables.ts";
import { type Built, build } from "../recorder/store/built.ts";
import { inventedLog, inventedSet, numbers, toKeep, uuidOf } from "../recorder/store/invented.ts";
import type { Said } from "./backup-child.ts";
import { portless } from "./portless.ts";
import { RecorderProcess } from "./recorder-process.ts";
import { SmallCard } from "./small-card.ts";

const CHILD = "tests/system/backup-child.ts";
const LONG = process.env["TIDEMARK_LONG"] === "1";
const BACKUP_KILLS = LONG ? 250 : 10;
const RESTORE_KILLS = LONG ? 120 : 12;
const SEED = 5;

const folder = mkdtempSync(join(tmpdir(), "tidemark-backup-"));
let built: Built;
beforeAll(() => {
  built = build(CHILD, "recorder/store/worker.ts", "recorder/store/backup-process.ts");
}, 120_000);
afterAll(() => {
  built?.remove();
  rmSync(folder, { recursive: true, force: true });
});

/** Sets 1..count as long as those of a gym: most of a minute at 80 readings a second. */
function storeOf(path: string, count: number): void {
  const tables = openTables(path);
  // Synced as a whole: how it came about is of no account here.
  tables.database.exec("PRAGMA synchronous = OFF");
  for (let number = 1; number <= count; number++) {
    tables.methods.keep(toKeep(inventedSet(number), "", inventedLog(number, 3000)));
  }
  tables.methods.close();
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const quantile = (values: readonly number[], share: number): number =>
  values.toSorted((one, other) => one - other)[Math.floor(share * (values.length - 1))] ?? Number.NaN;

test("killed at any moment of a backup, its file is whole or not there, and the store has every set it was told to have", {
  timeout: LONG ? 3_600_000 : 900_000,
}, async () => {
  const store = join(folder, "kept.db");
  const target = join(folder, "kept.backup");
  storeOf(store, 1500);
  const next = numbers(SEED);
  const beside: number[] = [];
  let first = 1501;
  let takes_ms = 0;
  let whole = 0;
  for (let round = 0; round <= BACKUP_KILLS; round++) {
    const child: ChildProcess = fork(built.file(CHILD), [store, String(first)]);
    const kept: number[] = [];
    const made = new Promise<Said>((resolve) => {
      child.on("message", (said: Said) => {
        if (said.is === "backed-up") return resolve(said);
        kept.push(said.number);
        beside.push(said.took_ms);
      });
    });
    await once(child, "message");
    child.send(target);
    if (round === 0) {
      // The first one lives: how long it takes is how late the others may die.
      takes_ms = ((await made) as Extract<Said, { is: "backed-up" }>).took_ms;
      expect(existsSync(target)).toBe(true);
    } else {
      await pause(next() * 1.2 * takes_ms);
    }
    child.kill("SIGKILL");
    await once(child, "exit");
    const there = existsSync(target);
    if (there) {
      whole += 1;
      const elsewhere = join(folder, `elsewhere-${round}.db`);
      const { sets, sealed } = await prepareRestore(elsewhere, target, async () => {});
      expect(sealed).toBe(true);
      expect(sets).toBeGreaterThanOrEqual(1500);
      rmSync(`${elsewhere}.restore`);
      rmSync(target);
    }
    const tables = openTables(store);
    expect(tables.opened_with).toBeNull();
    for (const number of kept) expect(tables.methods.set(uuidOf(number))?.message.set_id).toBe(uuidOf(number));
    first = Math.max(first, ...kept.map((number) => number + 1));
    // One that was committed and not told.
    if (tables.methods.set(uuidOf(first)) !== null) first += 1;
    expect(tables.methods.sets({ limit: 1 }).last_set_seq).toBe(first - 1);
    tables.methods.close();
  }
  expect(whole).toBeGreaterThan(0);
  expect(whole).toBeLessThan(BACKUP_KILLS);
  console.log(
    `${BACKUP_KILLS} backups killed within ${takes_ms.toFixed(0)} ms: ${whole} whole. ` +
      `Keeping beside them: mean ${mean(beside).toFixed(1)} ms, longest ${Math.max(...beside).toFixed(0)} ms`,
  );
});

test("a backup of a year's sets holds up no keeping", { timeout: 600_000 }, async () => {
  const store = join(folder, "year.db");
  const count = LONG ? 20_000 : 4000;
  storeOf(store, count);
  const child = fork(built.file(CHILD), [store, String(count + 1)]);
  const took: { readonly alone: number[]; readonly beside: number[] } = { alone: [], beside: [] };
  let running = false;
  let told: (said: Extract<Said, { is: "backed-up" }>) => void = () => {};
  child.on("message", (said: Said) => {
    if (said.is === "kept") took[running ? "beside" : "alone"].push(said.took_ms);
    else told(said);
  });
  onTestFinished(() => void child.kill("SIGKILL"));
  await pause(4000);
  running = true;
  child.send(join(folder, "year.backup"));
  const made = await new Promise<Extract<Said, { is: "backed-up" }>>((resolve) => {
    told = resolve;
  });
  running = false;
  child.kill("SIGKILL");
  await once(child, "exit");
  expect(made.sets).toBeGreaterThanOrEqual(count);
  const say = (values: readonly number[]): string =>
    `${values.length} keeps, median ${quantile(values, 0.5).toFixed(1)} ms, p99 ${quantile(values, 0.99).toFixed(1)} ms, longest ${Math.max(...values).toFixed(1)} ms`;
  console.log(
    `${made.sets} sets: ${(made.bytes / 1e6).toFixed(1)} MB (store ${(statSync(store).size / 1e6).toFixed(1)} MB) in ${(made.took_ms / 1000).toFixed(1)} s. Alone: ${say(took.alone)}. Beside: ${say(took.beside)}`,
  );
  // Nobody waits for a set to be kept, but a thousand of them must not pile up.
  expect(quantile(took.beside, 0.99)).toBeLessThan(1000);
  rmSync(join(folder, "year.backup"));
});

test("killed at any moment of a restore, the next start has one store whole, and the other is not lost", {
  timeout: LONG ? 3_600_000 : 900_000,
}, async () => {
  const place = join(folder, "box");
  const at = (name: string): string => join(place, name);
  mkdirSync(at("control"), { recursive: true });
  const configuration = at("tidemark.toml");
  writeFileSync(configuration, portless(at, ['url = "mqtt://127.0.0.1:9"']));
  const store = at("tidemark.db");
  const THEN = 150;
  storeOf(store, THEN);
  const backup = at("then.backup");
  const recorder = new RecorderProcess(configuration);
  onTestFinished(async () => void (await recorder.stop("SIGKILL")));

  /** Of the recorder, once it answers. */
  const status = async (): Promise<{ store: string; last_set_seq: number }> => {
    for (;;) {
      const reply = await ask({ path: at("control/a.sock"), verb: "sets", args: { limit: 1 } });
      if (reply.ok) {
        const { store: id, last_set_seq } = reply.result as { store: string; last_set_seq: number };
        return { store: id, last_set_seq };
      }
      if (!recorder.runs) throw new Error(`it ended by itself: ${recorder.log.slice(-2000)}`);
      await pause(50);
    }
  };
  await recorder.start();
  await status();
  expect(await recorder.ask("backup", backup)).toMatchObject({ sets: THEN });
  await recorder.stop();

  const next = numbers(SEED + 1);
  let extra = THEN;
  let restored = 0;
  let takes_ms = 0;
  for (let round = 0; round <= RESTORE_KILLS; round++) {
    // What the store in use has and the backup has not.
    const tables = openTables(store);
    const before = tables.store_id;
    for (let more = 0; more < 3; more++) {
      extra += 1;
      tables.methods.keep(toKeep(inventedSet(extra), "", inventedLog(extra)));
    }
    const now = tables.methods.sets({ limit: 1 }).last_set_seq;
    tables.methods.close();
    await recorder.start();
    expect(await status()).toEqual({ store: before, last_set_seq: now });

    const began_ms = performance.now();
    const asked = recorder.ask("restore", backup, "--yes").then(
      () => true,
      () => false,
    );
    if (round === 0) {
      expect(await asked).toBe(true);
      // It ends by itself, for the service manager to start it again.
      expect(await recorder.ended).toBe(1);
      takes_ms = performance.now() - began_ms;
    } else {
      await pause(next() * 1.2 * takes_ms);
      await recorder.stop("SIGKILL");
      // Where it found nobody any more, the command has done the work itself, and has the store as long as that takes.
      await asked;
    }
    // Killed once more while it starts, now and then in the middle of the renaming.
    await recorder.start();
    await pause(next() * 700);
    await recorder.stop("SIGKILL");
    await recorder.start();
    const after = await status();
    if (after.store === before) {
      expect(after.last_set_seq).toBe(now);
    } else {
      restored += 1;
      expect(after.last_set_seq).toBe(THEN);
      const former = readdirSync(place)
        .filter((name) => /before-restore-\d+$/.test(name))
        .map((name) => Number(name.split("-").at(-1)));
      const aside = openTables(at(`tidemark.db.before-restore-${Math.max(...former)}`));
      expect(aside.store_id).toBe(before);
      expect(aside.methods.sets({ limit: 1 }).last_set_seq).toBe(now);
      aside.methods.close();
    }
    await recorder.stop();
  }
  console.log(`${RESTORE_KILLS} restores killed within ${takes_ms.toFixed(0)} ms: ${restored - 1} had taken place`);
  expect(restored).toBeGreaterThan(0);
});

test("where there is no room, it is said how much is needed, and nothing is left", async () => {
  const small = new SmallCard(3000);
  onTestFinished(() => small.remove());
  const store = join(folder, "large.db");
  storeOf(store, 800);
  const refusal = async (work: Promise<unknown>): Promise<string> => {
    const error = await work.then(
      () => null,
      (reason: unknown) => reason,
    );
    if (!(error instanceof NotDone)) throw new Error(`not refused: ${error}`);
    return error.refusal.message;
  };
  const never = new AbortController().signal;
  const target = join(small.folder, "a.backup");
  expect(await refusal(doApart({ do: "backup", store_path: store, path: target }, never))).toMatch(
    /has \d+ MB free, and \d+ MB are needed/,
  );
  expect(readdirSync(small.folder)).toEqual([]);

  const backup = join(folder, "large.backup");
  await doApart({ do: "backup", store_path: store, path: backup }, never);
  const here = join(small.folder, "tidemark.db");
  expect(await refusal(doApart({ do: "restore", store_path: here, path: backup }, never))).toMatch(
    /has \d+ MB free, and \d+ MB are needed/,
  );
  expect(readdirSync(small.folder)).toEqual([]);
});

test("a disk that somebody else fills meanwhile is said, and nothing is left", async () => {
  const store = join(folder, "large.db");
  if (!existsSync(store)) storeOf(store, 800);
  const small = new SmallCard(Math.ceil(statSync(store).size / 1024) + 2048);
  onTestFinished(() => small.remove());
  const target = join(small.folder, "a.backup");
  const asked = doApart({ do: "backup", store_path: store, path: target }, new AbortController().signal).then(
    () => null,
    (reason: unknown) => reason,
  );
  while (!existsSync(`${target}.partial`)) await pause(1);
  small.fill();
  const error = await asked;
  // It may have been quicker; then it is a backup.
  if (error === null) expect(existsSync(target)).toBe(true);
  else {
    expect(error).toBeInstanceOf(NotDone);
    expect((error as NotDone).refusal).toMatchObject({
      code: "storage",
      message: `The disk of ${small.folder} is full.`,
    });
    expect(readdirSync(small.folder)).toEqual(["filler"]);
  }
});
