/** kill -9 before each single call of a restore that changes a file: either store is in use, whole, and the other is not lost. */
import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, dirname, join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { makeBackup } from "../../../recorder/store/backup.ts";
import { openTables, type Tables } from "../../../recorder/store/tables.ts";
import { type Built, build } from "./built.ts";
import { inventedLog, inventedRecord, inventedSet, plainLog, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

const CHILD = "tests/recorder/store/restore-crash-child.ts";

let built: Built;
beforeAll(() => {
  built = build(CHILD);
}, 60_000);
afterAll(() => built.remove());

/** Sets that the backup has, and those that the store has. */
const THEN = 4;
const NOW = 7;

interface Place {
  readonly path: string;
  readonly backup: string;
}

async function placeToStart(): Promise<Place> {
  const path = storePath();
  const fill = ({ methods }: Tables, from: number, to: number): void => {
    for (let number = from; number <= to; number++) methods.keep(toKeep(inventedSet(number), "", inventedLog(number)));
  };
  const tables = openTables(path);
  fill(tables, 1, THEN);
  tables.methods.saveCalibration(inventedRecord(1));
  const backup = join(dirname(path), "b.backup");
  await makeBackup(path, backup, async () => {});
  fill(tables, THEN + 1, NOW);
  tables.methods.saveCalibration(inventedRecord(2));
  // As after a power cut: some of it is only in the log beside the file.
  const cut = join(dirname(path), "cut");
  for (const piece of ["", "-wal"]) cpSync(path + piece, cut + piece);
  tables.methods.close();
  for (const piece of ["", "-wal"]) cpSync(cut + piece, path + piece);
  for (const piece of ["", "-wal"]) rmSync(cut + piece);
  return { path, backup };
}

/** What the child said: how many calls it made; null: it was killed. */
function run(what: "prepare" | "place", { path, backup }: Place, last: number): number | null {
  const { signal, stdout, stderr } = spawnSync(process.execPath, [built.file(CHILD), what, path, backup, String(last)]);
  if (signal === null && stdout.length === 0) throw new Error(stderr.toString());
  return signal === "SIGKILL" ? null : Number(stdout.toString());
}

/** Opens a store that must be whole; how many sets it has. */
function setsIn(path: string): number {
  const tables = openTables(path);
  try {
    expect(tables.opened_with).toBeNull();
    expect(tables.database.pragma("integrity_check")).toBe("ok");
    const { sets } = tables.methods.sets({});
    for (const [index, set] of sets.entries()) {
      expect(set.set_id).toBe(uuidOf(index + 1));
      expect(plainLog(tables.methods.set(set.set_id)!.log)).toEqual(inventedLog(index + 1));
    }
    expect(tables.methods.calibrationInForce("leg-press")).toEqual(inventedRecord(2));
    return sets.length;
  } finally {
    tables.methods.close();
  }
}

/** A copy of a place, in a folder of its own, to be ruined. */
function copyOf({ path, backup }: Place): Place & { readonly folder: string } {
  const folder = mkdtempSync(join(tmpdir(), "tidemark-store-"));
  cpSync(dirname(path), folder, { recursive: true });
  return { folder, path: join(folder, basename(path)), backup: join(folder, basename(backup)) };
}

test("killed before any call of the preparation, the store is as it was, or the restore is complete", {
  timeout: 180_000,
}, async () => {
  const start = await placeToStart();
  let restored = 0;
  let kills = 0;
  for (let last = 1; ; last++) {
    const place = copyOf(start);
    const calls = run("prepare", place, last);
    if (calls === null) kills += 1;
    const complete = existsSync(`${place.path}.restore`);
    // Whoever asks again is not stopped by what the former left.
    if (!complete) expect(run("prepare", place, Number.MAX_SAFE_INTEGER)).not.toBeNull();
    run("place", place, Number.MAX_SAFE_INTEGER);
    expect(setsIn(place.path)).toBe(THEN);
    expect(setsIn(`${place.path}.before-restore-1`)).toBe(NOW);
    expect(readdirSync(place.folder).filter((name) => /partial|\.restore/.test(name))).toEqual([]);
    if (complete) restored += 1;
    rmSync(place.folder, { recursive: true });
    if (calls !== null) break;
  }
  expect(kills).toBeGreaterThan(8);
  expect(restored).toBeLessThan(kills);
});

test("killed before any call of taking its place, the next opening goes on to the same end", {
  timeout: 180_000,
}, async () => {
  const start = await placeToStart();
  run("prepare", start, Number.MAX_SAFE_INTEGER);
  let kills = 0;
  for (let last = 1; ; last++) {
    const place = copyOf(start);
    const calls = run("place", place, last);
    // Twice in a row, as with a supply that fails again at the start.
    if (calls === null) {
      kills += 1;
      run("place", place, 1 + (last % 7));
    }
    run("place", place, Number.MAX_SAFE_INTEGER);
    expect(setsIn(place.path)).toBe(THEN);
    expect(setsIn(`${place.path}.before-restore-1`)).toBe(NOW);
    expect(readdirSync(place.folder).filter((name) => /partial|\.restore|restore-2/.test(name))).toEqual([]);
    rmSync(place.folder, { recursive: true });
    if (calls !== null) break;
  }
  expect(kills).toBeGreaterThan(8);
});
