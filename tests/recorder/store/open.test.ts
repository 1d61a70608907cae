import {
  chmodSync,
  closeSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  readlinkSync,
  statSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from "node:fs";
import { basename, dirname, join } from "node:path";
import { setImmediate } from "node:timers/promises";
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { DatabaseSync } from "@photostructure/sqlite";
import { expect, onTestFinished, test } from "vitest";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { APPLICATION_ID, markSuspect } from "../../../recorder/store/open.ts";
import { STEPS } from "../../../recorder/store/steps.ts";
import { openTables, openTablesWithCalibrations, type Tables } from "../../../recorder/store/tables.ts";
import { inventedLog, inventedRecord, inventedSet, numbers, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

function opened(path: string, steps?: readonly string[]): Tables {
  const tables = openTables(path, steps);
  onTestFinished(() => tables.methods.close());
  return tables;
}

/** A store with `sets` sets, one calibration and a running part, closed again. Returns its id. */
function filled(path: string, sets = 20): string {
  const { store_id, methods } = openTables(path);
  methods.saveCalibration(inventedRecord(1));
  for (let number = 1; number <= sets; number++) methods.keep(toKeep(inventedSet(number), "", inventedLog(number)));
  methods.checkpoint([{ set_id: uuidOf(900), station: "leg-press", part: 0, log: inventedLog(900) }]);
  methods.close();
  return store_id;
}

function refusal(open: () => unknown): StoreFailure {
  try {
    open();
  } catch (error) {
    if (error instanceof StoreFailure) return error;
    throw error;
  }
  throw new Error("it opened");
}

const pragmas = (tables: Tables, ...names: string[]): unknown[] => names.map((name) => tables.database.pragma(name));
const filesBeside = (path: string): string[] => readdirSync(dirname(path)).filter((name) => name !== basename(path));

test("a new file has what must be chosen before its first table, and every open has the rest", () => {
  const path = storePath();
  const id = filled(path);
  const again = opened(path);
  expect(again.store_id).toBe(id);
  expect(again.opened_with).toBeNull();
  expect(pragmas(again, "application_id", "user_version")).toEqual([APPLICATION_ID, STEPS.length]);
  // auto_vacuum: 2 is INCREMENTAL; synchronous: 2 is FULL. https://www.sqlite.org/pragma.html
  expect(pragmas(again, "auto_vacuum", "journal_mode", "synchronous", "secure_delete")).toEqual([2, "wal", 2, 1]);
  expect(pragmas(again, "journal_size_limit", "cell_size_check", "trusted_schema")).toEqual([4 * 1024 * 1024, 1, 0]);
});

test("closing leaves everything in the one file", () => {
  const path = storePath();
  filled(path);
  const copy = join(dirname(path), "copy.db");
  copyFileSync(path, copy);
  expect(opened(copy).methods.sets({}).sets).toHaveLength(20);
});

test("every table is strict", () => {
  const { database } = opened(storePath());
  const tables = database.all<{ name: string; strict: number }>(
    "SELECT name, strict FROM pragma_table_list WHERE type = 'table' AND schema = 'main' AND name NOT LIKE 'sqlite%'",
  );
  expect(tables.length).toBeGreaterThan(5);
  expect(tables.filter((table) => table.strict !== 1)).toEqual([]);
});

test("released steps of the schema are never edited", () => {
  expect(STEPS.length).toBeGreaterThan(0);
  for (const [index, step] of STEPS.entries()) {
    const frozen = readFileSync(new URL(`./fixtures/step-${index + 1}.sql`, import.meta.url), "utf8");
    expect(step).toBe(frozen);
  }
});

test("two recorders cannot have one file, and the second is told", () => {
  const path = storePath();
  const first = openTables(path);
  expect(refusal(() => openTables(path))).toMatchObject({
    code: "in-use",
    message: `cannot open the store ${path}: another recorder is running on it; stop that one first`,
  });
  first.methods.close();
  opened(path);
});

test("somebody may look into the file while it is open", () => {
  const path = storePath();
  const { methods } = opened(path);
  methods.keep(toKeep(inventedSet(1)));
  const visitor = new DatabaseSync(path, { readOnly: true });
  expect(visitor.prepare("SELECT count(*) AS sets FROM kept_set").get()).toMatchObject({ sets: 1 });
  visitor.close();
  methods.keep(toKeep(inventedSet(2)));
});

test("a newer file is refused and left as it was", () => {
  const path = storePath();
  const { methods } = openTables(path, [...STEPS, "CREATE TABLE from_the_future (a TEXT) STRICT;"]);
  methods.close();
  const before = readFileSync(path);
  expect(refusal(() => openTables(path))).toMatchObject({
    code: "newer",
    message:
      `the store ${path} is of version ${STEPS.length + 1} and this program knows up to ${STEPS.length}: ` +
      "run the newer program, or restore a copy made before it",
  });
  expect(readFileSync(path).equals(before)).toBe(true);
});

test("a damaged file's connection, once it is collected, leaves the new store's log alone", async () => {
  setFlagsFromString("--expose-gc");
  const collect = runInNewContext("gc") as () => void;
  const path = storePath();
  filled(path, 200);
  const file = openSync(path, "r+");
  writeSync(file, Buffer.alloc(4096 * 3, 0x5a), 0, 4096 * 3, Math.floor(statSync(path).size / 8192) * 4096);
  closeSync(file);
  const { methods, opened_with } = openTables(path);
  expect(opened_with).toContain("was damaged");
  methods.keep(toKeep(inventedSet(1), "", inventedLog(1)));
  const held = (): boolean => openFiles().some((name) => name.startsWith(`${path}.damaged-1`));
  expect(held()).toBe(true);
  const inode = statSync(`${path}-wal`).ino;
  // Finalisers run in turns of their own.
  for (let turns = 0; held() && turns < 1000; turns++) {
    collect();
    await setImmediate();
  }
  expect(held()).toBe(false);
  // SQLite asks whether its file has moved before it deletes a log by name.
  expect(statSync(`${path}-wal`).ino).toBe(inode);
  const copy = join(dirname(path), "copy.db");
  copyFileSync(path, copy);
  copyFileSync(`${path}-wal`, `${copy}-wal`);
  expect(opened(copy).methods.sets({}).sets).toHaveLength(1);
  methods.close();
});

const openFiles = (): string[] =>
  readdirSync("/proc/self/fd").flatMap((name) => {
    try {
      return [readlinkSync(`/proc/self/fd/${name}`)];
    } catch {
      return [];
    }
  });

test("an older file is copied, then brought up to date", () => {
  const path = storePath();
  const id = filled(path);
  const later = [...STEPS, "ALTER TABLE kept_set ADD COLUMN colour TEXT;", "CREATE TABLE added (a TEXT) STRICT;"];
  const tables = opened(path, later);
  expect(tables.opened_with).toBe(
    `The store ${path} was brought up to date; what it was before is in ${path}.version-${STEPS.length}.`,
  );
  expect(tables.store_id).toBe(id);
  expect(tables.database.pragma("user_version")).toBe(later.length);
  expect(tables.methods.sets({}).sets).toHaveLength(20);
  const copy = opened(`${path}.version-${STEPS.length}`);
  expect(copy.database.pragma("user_version")).toBe(STEPS.length);
  expect(copy.methods.sets({}).sets).toHaveLength(20);
});

test("a file from before sets could be amended gets to know whose each revision is, damaged text or not", () => {
  const path = storePath();
  const first = openTables(path, STEPS.slice(0, 1));
  const add = (number: number, message: string): number =>
    first.database.run("INSERT INTO change_log (set_id, revision, message) VALUES (?, 1, ?)", uuidOf(number), message);
  add(1, JSON.stringify(inventedSet(1)));
  add(2, JSON.stringify(inventedSet(2, { trainee: null })));
  add(3, '{"trainee": "t-0');
  first.methods.close();
  const { database } = opened(path);
  expect(database.all("SELECT trainee, performed_by, revised_at FROM change_log ORDER BY set_seq")).toEqual([
    { trainee: "t-01", performed_by: null, revised_at: null },
    { trainee: null, performed_by: null, revised_at: null },
    { trainee: null, performed_by: null, revised_at: null },
  ]);
});

test("a step that fails leaves the file at the version before it, and it is not taken for damage", () => {
  const path = storePath();
  const id = filled(path);
  const wrong = [...STEPS, "CREATE TABLE added (a TEXT) STRICT; INSERT INTO nowhere VALUES (1);"];
  expect(refusal(() => openTables(path, wrong)).message).toContain(`from version ${STEPS.length} to ${wrong.length}`);
  const tables = opened(path);
  expect(tables.store_id).toBe(id);
  expect(tables.opened_with).toBeNull();
  expect(tables.database.all("SELECT name FROM sqlite_schema WHERE name = 'added'")).toEqual([]);
});

test("another program's database is refused and left as it was", () => {
  const path = storePath();
  const other = new DatabaseSync(path);
  other.exec("CREATE TABLE store (a); INSERT INTO store VALUES (1)");
  other.close();
  const before = readFileSync(path);
  expect(refusal(() => openTables(path))).toMatchObject({
    code: "not-ours",
    message: `${path} is another program's database; name another path for the store`,
  });
  expect(readFileSync(path).equals(before)).toBe(true);
  expect(filesBeside(path).filter((name) => name.includes("damaged"))).toEqual([]);
});

test("a path that cannot be is refused in one sentence", () => {
  const path = storePath();
  const nowhere = join(dirname(path), "nowhere", "tidemark.db");
  expect(refusal(() => openTables(nowhere)).message).toBe(
    `cannot open the store ${nowhere}: the directory ${dirname(nowhere)} does not exist; make it, or name another path`,
  );
  mkdirSync(path);
  expect(refusal(() => openTables(path)).message).toBe(
    `cannot open the store ${path}: that is not a file; name another path`,
  );
});

/** Permissions do not bind root, so the sentences about them are looked at as somebody else. */
function asNobody<T>(work: () => T): T {
  if (process.getuid?.() !== 0) return work();
  const nobody = 65_534;
  process.seteuid?.(nobody);
  try {
    return work();
  } finally {
    process.seteuid?.(0);
  }
}

test("a file or directory that may not be written is refused in one sentence, and nothing is moved", () => {
  const original = storePath();
  filled(original, 1);
  // A file this process has had open before would be handed to it again, rights and all.
  const path = join(dirname(original), "copy.db");
  copyFileSync(original, path);
  chmodSync(dirname(path), 0o777);
  chmodSync(path, 0o444);
  expect(refusal(() => asNobody(() => openTables(path)))).toMatchObject({
    code: "read-only",
    message:
      `cannot open the store ${path}: the file or its directory cannot be written; ` +
      "let the recorder's user write both",
  });
  chmodSync(dirname(path), 0o555);
  const fresh = join(dirname(path), "fresh.db");
  expect(refusal(() => asNobody(() => openTables(fresh)))).toMatchObject({
    code: "unopenable",
    message:
      `cannot open the store ${fresh}: the file cannot be opened; ` +
      "see that its directory exists and the recorder's user may write it",
  });
  chmodSync(dirname(path), 0o755);
  chmodSync(path, 0o644);
  expect(filesBeside(path).filter((name) => name.includes("damaged"))).toEqual([]);
  expect(opened(path).methods.sets({}).sets).toHaveLength(1);
});

test("a damaged file is moved aside whole, a new store begins, and the calibrations come along", async () => {
  const path = storePath();
  const id = filled(path);
  writeFileSync(`${path}-wal`, "the log of it");
  const garbage = Buffer.from("this was a database once".repeat(400));
  writeFileSync(path, garbage);
  const tables = await openTablesWithCalibrations(path);
  onTestFinished(() => tables.methods.close());
  expect(tables.store_id).not.toBe(id);
  expect(tables.opened_with).toBe(
    `The store ${path} was damaged (file is not a database); it is now ${path}.damaged-1, and a new, empty one was begun. ` +
      `Calibrations taken over from ${path}-calibrations: 1. Zero each station before use.`,
  );
  expect(readFileSync(`${path}.damaged-1`).equals(garbage)).toBe(true);
  expect(readFileSync(`${path}.damaged-1-wal`, "utf8")).toBe("the log of it");
  expect(tables.methods.sets({}).sets).toEqual([]);
  expect(tables.methods.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
  expect(tables.methods.keep(toKeep(inventedSet(1))).set_seq).toBe(1);
});

test("a second damaged file does not take the first one's place", () => {
  const path = storePath();
  for (const number of [1, 2]) {
    writeFileSync(path, `garbage ${number}`.repeat(1000));
    openTables(path).methods.close();
    expect(readFileSync(`${path}.damaged-${number}`, "utf8")).toContain(`garbage ${number}`);
  }
});

test("a log whose file is gone is moved aside, not dropped", () => {
  const path = storePath();
  writeFileSync(`${path}-wal`, "sets nobody has read yet");
  expect(opened(path).opened_with).toContain("the file is empty, but its log is not");
  expect(readFileSync(`${path}.damaged-1-wal`, "utf8")).toBe("sets nobody has read yet");
});

/** Opens whatever is at `path`, and it works: a set can be kept and read. */
function worksAfter(path: string): "moved" | "fine" {
  const { methods, opened_with } = openTables(path);
  try {
    const kept = methods.keep(toKeep(inventedSet(5000), "", inventedLog(5000)));
    expect(methods.set(kept.set_id)?.message).toEqual(kept);
  } catch (error) {
    // What only shows later is named as damage; the next start looks closely and gets over it.
    expect(error).toMatchObject({ code: "corrupt" });
    methods.close();
    return worksAfter(path);
  }
  methods.close();
  return opened_with?.includes("damaged") === true ? "moved" : "fine";
}

test("any byte of the header may be wrong", { timeout: 120_000 }, () => {
  const path = storePath();
  filled(path, 3);
  const good = readFileSync(path);
  const next = numbers(20261124);
  const seen = new Set<string>();
  for (let at = 0; at < 100; at++) {
    const bad = Uint8Array.from(good);
    bad[at]! ^= 1 + Math.floor(next() * 255);
    const copy = join(dirname(path), `header-${at}.db`);
    writeFileSync(copy, bad);
    const what = worksAfter(copy);
    seen.add(what);
    // user_version and application_id: https://www.sqlite.org/fileformat2.html#the_database_header
    if ((at >= 60 && at < 64) || (at >= 68 && at < 72)) expect(what).toBe("moved");
  }
  expect(seen).toEqual(new Set(["moved", "fine"]));
});

test("bytes may be flipped, overwritten or missing anywhere", { timeout: 120_000 }, () => {
  const path = storePath();
  filled(path, 30);
  const good = readFileSync(path);
  const next = numbers(7);
  const seen = new Set<string>();
  for (let round = 0; round < 60; round++) {
    const bad = Uint8Array.from(good);
    const at = Math.floor(next() * bad.length);
    if (round % 3 === 0) bad[at]! ^= 1 << Math.floor(next() * 8);
    if (round % 3 === 1) bad.fill(Math.floor(next() * 256), at, at + 1 + Math.floor(next() * 9000));
    const copy = join(dirname(path), `bytes-${round}.db`);
    writeFileSync(copy, bad);
    if (round % 3 === 2) truncateSync(copy, at);
    seen.add(worksAfter(copy));
  }
  expect(seen).toEqual(new Set(["moved", "fine"]));
});

test("damage met on the way has the next start read the whole file", () => {
  const path = storePath();
  filled(path);
  markSuspect(path);
  expect(existsSync(`${path}-suspect`)).toBe(true);
  expect(opened(path).opened_with).toBeNull();
  expect(existsSync(`${path}-suspect`)).toBe(false);
});

test("a set whose log or text is damaged is named, and keeps the others from nobody", () => {
  const path = storePath();
  const { methods, database } = opened(path);
  for (const number of [1, 2, 3]) methods.keep(toKeep(inventedSet(number)));
  database.run("UPDATE set_log SET log = x'0101000000000300' WHERE first_set_seq = 2");
  database.run("UPDATE change_log SET message = substr(message, 1, 40) WHERE set_seq = 3");
  for (const number of [2, 3]) {
    const failure = refusal(() => methods.set(uuidOf(number)));
    expect(failure.code).toBe("corrupt");
    expect(failure.message).toContain(`the set ${uuidOf(number)} cannot be read`);
  }
  expect(existsSync(`${path}-suspect`)).toBe(true);
  expect(methods.sets({}).sets.map((set) => set.set_seq)).toEqual([1, 2]);
  expect(methods.latest("leg-press")).toBeNull();
});

test("a large file is looked through but for its long tables, until a request meets damage there", () => {
  const path = storePath();
  const first = openTables(path);
  first.methods.keep(toKeep(inventedSet(1)));
  first.database.run("INSERT INTO set_log (first_set_seq, log) VALUES (1000, zeroblob(70000000))");
  const rootOf = (table: string): number =>
    first.database.get<{ rootpage: number }>("SELECT rootpage FROM sqlite_schema WHERE name = ?", table)?.rootpage ?? 0;
  const [long, narrow] = [rootOf("set_log"), rootOf("kept_set")];
  first.methods.close();
  const good = readFileSync(path);
  const damagedAt = (page: number): Buffer => Buffer.from(good).fill(0x5a, (page - 1) * 4096, page * 4096);

  const narrowly = join(dirname(path), "narrow.db");
  writeFileSync(narrowly, damagedAt(narrow));
  expect(opened(narrowly).opened_with).toContain("was damaged");

  writeFileSync(path, damagedAt(long));
  const { methods, opened_with, store_id } = openTables(path);
  expect(opened_with).toBeNull();
  expect(refusal(() => methods.keep(toKeep(inventedSet(2)))).code).toBe("corrupt");
  methods.close();
  const next = opened(path);
  expect(next.opened_with).toContain("was damaged");
  expect(next.store_id).not.toBe(store_id);
  expect(existsSync(`${path}-suspect`)).toBe(false);
  expect(next.methods.keep(toKeep(inventedSet(2))).set_seq).toBe(1);
});
