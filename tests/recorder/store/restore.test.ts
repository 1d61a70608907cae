import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { dirname } from "node:path";
import { expect, test } from "vitest";
import { makeBackup } from "../../../recorder/store/backup.ts";
import { SEAL_BYTES } from "../../../recorder/store/backup-seal.ts";
import { NotDone } from "../../../recorder/store/backup-trouble.ts";
import { calibrationDirectory } from "../../../recorder/store/calibration-files.ts";
import { Database } from "../../../recorder/store/database.ts";
import { readCalibrationFiles } from "../../../recorder/store/read-calibration-files.ts";
import { prepareRestore } from "../../../recorder/store/restore-prepare.ts";
import { STEPS } from "../../../recorder/store/steps.ts";
import { openTables, openTablesWithCalibrations, type Tables } from "../../../recorder/store/tables.ts";
import {
  instantAt,
  inventedCheck,
  inventedLog,
  inventedRecord,
  inventedSet,
  numbers,
  plainLog,
  toKeep,
  uuidOf,
} from "./invented.ts";
import { partOf } from "./parts-of.ts";
import { storePath } from "./store-path.ts";

const turn = async (): Promise<void> => {};

function fill({ methods }: Tables, from: number, to: number): void {
  for (let number = from; number <= to; number++) {
    methods.keep(toKeep(inventedSet(number), "seat=3", inventedLog(number)));
  }
}

/** A store with sets 1..count, closed, and a backup of it. */
async function backedUp(
  count: number,
  prepare: (tables: Tables) => void = () => {},
): Promise<{ path: string; backup: string; id: string }> {
  const path = storePath();
  const tables = openTables(path);
  fill(tables, 1, count);
  prepare(tables);
  tables.methods.close();
  const backup = `${path}.backup`;
  await makeBackup(path, backup, turn);
  return { path, backup, id: tables.store_id };
}

/** Opens what is there after a restore, looks, and closes it. */
async function after<T>(path: string, look: (tables: Tables) => T): Promise<T> {
  const tables = await openTablesWithCalibrations(path);
  try {
    return look(tables);
  } finally {
    tables.methods.close();
  }
}

function change(path: string, work: (tables: Tables) => void): void {
  const tables = openTables(path);
  work(tables);
  tables.methods.close();
}

async function refusalOf(work: Promise<unknown>): Promise<NotDone["refusal"]> {
  const error = await work.then(
    () => null,
    (reason: unknown) => reason,
  );
  if (!(error instanceof NotDone)) throw new Error(`not refused: ${error}`);
  return error.refusal;
}

const seqs = ({ methods }: Tables): number[] => methods.sets({}).sets.map(({ set_seq }) => set_seq);
const besides = (path: string, word: string): string[] =>
  readdirSync(dirname(path))
    .filter((name) => name.includes(word))
    .sort();

test("the restored store has the backup's sets under a new id, and the former one lies beside it whole", async () => {
  const { path, backup, id } = await backedUp(6);
  change(path, (tables) => fill(tables, 7, 9));
  const prepared = await prepareRestore(path, backup, turn);
  expect(prepared).toMatchObject({
    store: id,
    sets: 6,
    last_set_seq: 6,
    kept_aside: `${path}.before-restore-1`,
    sealed: true,
  });
  // Until it is opened anew nothing has changed.
  change(path, (tables) => expect(seqs(tables)).toHaveLength(9));
  await after(path, (tables) => {
    expect(tables.store_id).toBe(prepared.new_store);
    expect(tables.opened_with).toBe(
      `The store ${path} was restored from a backup. What was in use before is in ${path}.before-restore-1.`,
    );
    expect(seqs(tables)).toEqual([1, 2, 3, 4, 5, 6]);
    // A message keeps its bytes, the id it was published under among them.
    expect(tables.methods.set(uuidOf(3))?.message.store).toBe(id);
    expect(plainLog(tables.methods.set(uuidOf(3))!.log)).toEqual(inventedLog(3));
    // Numbers go on from the backup's.
    const kept = tables.methods.keep(toKeep(inventedSet(50), "seat=3", inventedLog(50)));
    expect(kept).toMatchObject({ set_seq: 7, store: prepared.new_store });
    const revised = tables.methods.revise({
      set_id: uuidOf(2),
      changes: { note: "as it was" },
      performed_by: null,
      revised_at: instantAt(99),
      topic: "t",
    });
    expect(revised).toMatchObject({ set_seq: 8, revision: 2, store: prepared.new_store });
    expect(tables.database.pragma("integrity_check")).toBe("ok");
  });
  change(`${path}.before-restore-1`, (tables) => {
    expect(tables.store_id).toBe(id);
    expect(seqs(tables)).toHaveLength(9);
  });
  await after(path, (tables) => expect(tables.opened_with).toBeNull());
});

test("numbers that an erased set had are not given again", async () => {
  const { path, backup } = await backedUp(4, ({ database }) =>
    database.exec(
      "DELETE FROM change_log WHERE set_seq = 4; DELETE FROM kept_set WHERE set_seq = 4; DELETE FROM set_log WHERE first_set_seq = 4",
    ),
  );
  await prepareRestore(path, backup, turn);
  await after(path, ({ methods }) => expect(methods.keep(toKeep(inventedSet(9))).set_seq).toBe(5));
});

test("what waited for the broker waits again; what ran then runs no longer", async () => {
  const { path, backup } = await backedUp(3, ({ methods }) => methods.checkpoint([partOf(77, 0)]));
  change(path, ({ methods }) => {
    for (const { row } of methods.outbox(100)) methods.sent(row);
  });
  await prepareRestore(path, backup, turn);
  await after(path, ({ methods }) => {
    expect(methods.outboxSize()).toBe(3);
    expect(methods.unfinished()).toEqual([]);
  });
});

test("on a box without a store it is the store, and there is nothing to put aside", async () => {
  const { backup } = await backedUp(5, ({ methods }) => methods.saveCalibration(inventedRecord(1)));
  const path = storePath();
  expect(await prepareRestore(path, backup, turn)).toMatchObject({ kept_aside: null });
  await after(path, (tables) => {
    expect(seqs(tables)).toHaveLength(5);
    expect(tables.methods.calibrationInForce("leg-press")).toEqual(inventedRecord(1));
    expect(tables.opened_with).toBe(`The store ${path} was restored from a backup.`);
  });
  // Beside it lies what another start without a store would go by.
  expect(readCalibrationFiles(path).in_force).toMatchObject([{ calibration_id: inventedRecord(1).calibration_id }]);
  expect(besides(path, "before-restore")).toEqual([]);
});

test("an old backup does not bring an old scale back", async () => {
  const { path, backup } = await backedUp(2, ({ methods }) => {
    methods.saveCalibration(inventedRecord(1));
    methods.saveCalibration(inventedRecord(2, { station: "chest-press" }));
  });
  change(path, ({ methods }) => {
    methods.saveCalibration(inventedRecord(20));
    methods.saveCheck(inventedCheck(1, {}, inventedRecord(20)));
  });
  await prepareRestore(path, backup, turn);
  await after(path, ({ methods }) => {
    expect(methods.calibrationInForce("leg-press")).toEqual(inventedRecord(20));
    expect(methods.calibrations("leg-press")).toEqual([inventedRecord(20), inventedRecord(1)]);
    expect(methods.checks("leg-press")).toEqual([inventedCheck(1, {}, inventedRecord(20))]);
    expect(methods.calibrationInForce("chest-press")).toEqual(inventedRecord(2, { station: "chest-press" }));
  });
});

test("a newer backup brings its scale, as from another box", async () => {
  const { backup } = await backedUp(1, ({ methods }) => methods.saveCalibration(inventedRecord(30)));
  const path = storePath();
  change(path, ({ methods }) => methods.saveCalibration(inventedRecord(3)));
  await prepareRestore(path, backup, turn);
  await after(path, ({ methods }) => expect(methods.calibrationInForce("leg-press")).toEqual(inventedRecord(30)));
  expect(readCalibrationFiles(path).in_force).toMatchObject([{ calibration_id: inventedRecord(30).calibration_id }]);
});

const zeroOf = (record: { calibration_id: string }, shift_counts: number) => ({
  calibration_id: record.calibration_id,
  shift_counts,
  asked_shift_counts: 0,
  at: instantAt(5),
  cause: "asked" as const,
  performed_by: null,
});

test("latches and zeros are of the machines as they are now, not of the backup's day", async () => {
  const { path, backup } = await backedUp(1, ({ methods }) => {
    methods.saveCalibration(inventedRecord(1));
    methods.saveZero("leg-press", zeroOf(inventedRecord(1), 11));
    methods.saveInspect("rower", { since: instantAt(1), detail: "Long since inspected." });
    methods.rememberRetained("a/topic/of-then");
  });
  change(path, ({ methods }) => {
    methods.saveZero("leg-press", zeroOf(inventedRecord(1), 44));
    methods.saveInspect("rower", null);
    methods.saveInspect("leg-press", { since: instantAt(9), detail: "It saw too much." });
    methods.forgetRetained("a/topic/of-then");
    methods.rememberRetained("a/topic/of-now");
  });
  await prepareRestore(path, backup, turn);
  await after(path, ({ methods }) => {
    expect(methods.zero("leg-press")).toMatchObject({ shift_counts: 44 });
    expect(methods.inspect("leg-press")).toEqual({ since: instantAt(9), detail: "It saw too much." });
    expect(methods.inspect("rower")).toBeNull();
    expect(methods.retained()).toEqual(["a/topic/of-now", "a/topic/of-then"]);
  });
});

test("a zero of another day is not taken over from a backup alone", async () => {
  const { backup } = await backedUp(1, ({ methods }) => {
    methods.saveCalibration(inventedRecord(1));
    methods.saveZero("leg-press", zeroOf(inventedRecord(1), 11));
    methods.saveInspect("rower", { since: instantAt(1), detail: "It saw too much." });
  });
  const path = storePath();
  await prepareRestore(path, backup, turn);
  await after(path, ({ methods }) => {
    expect(methods.zero("leg-press")).toBeNull();
    // A latch that nobody can gainsay holds.
    expect(methods.inspect("rower")).not.toBeNull();
  });
});

test("an erasure that is not done yet goes on in the restored store", async () => {
  const { path, backup } = await backedUp(1);
  change(path, ({ database }) =>
    database.exec(`INSERT INTO erasure (trainee, asked_at) VALUES ('t-01', '${instantAt(3)}')`),
  );
  await prepareRestore(path, backup, turn);
  await after(path, ({ database }) =>
    expect(database.all("SELECT trainee, done_at FROM erasure")).toEqual([{ trainee: "t-01", done_at: null }]),
  );
});

test("a damaged store is no hindrance: that is what a backup is for", async () => {
  const { path, backup } = await backedUp(8);
  writeFileSync(path, Buffer.alloc(40_000, 0xa5));
  await prepareRestore(path, backup, turn);
  await after(path, (tables) => expect(seqs(tables)).toHaveLength(8));
  expect(readFileSync(`${path}.before-restore-1`)).toEqual(Buffer.alloc(40_000, 0xa5));
});

test("another program's database at the store's path is not put aside", async () => {
  const { backup } = await backedUp(1);
  const path = storePath();
  const other = new Database(path);
  other.exec("CREATE TABLE recipe (name TEXT)");
  other.close();
  expect((await refusalOf(prepareRestore(path, backup, turn))).message).toContain("another program's");
  expect(besides(path, "restore")).toEqual([]);
});

test("every version ever released is brought up to date on the way, and a newer one is refused with a sentence", async () => {
  for (let version = 1; version < STEPS.length; version++) {
    const old = storePath();
    openTables(old, STEPS.slice(0, version)).methods.close();
    const backup = `${old}.backup`;
    await makeBackup(old, backup, turn);
    const path = storePath();
    await prepareRestore(path, backup, turn);
    await after(path, ({ database }) => expect(database.pragma("user_version")).toBe(STEPS.length));
    expect(besides(path, "version")).toEqual([]);
  }
  const newer = storePath();
  openTables(newer, [...STEPS, "CREATE TABLE later (a TEXT) STRICT"]).methods.close();
  await makeBackup(newer, `${newer}.backup`, turn);
  const refusal = await refusalOf(prepareRestore(storePath(), `${newer}.backup`, turn));
  expect(refusal).toMatchObject({ code: "not-suited" });
  expect(refusal.message).toContain(`is of version ${STEPS.length + 1}, and this program knows up to ${STEPS.length}`);
});

test("what is no backup is refused with what is wrong, and nothing is left of it", async () => {
  const { path, backup } = await backedUp(20);
  const made = readFileSync(backup);
  const given = `${path}.given`;
  const refused = async (content: Buffer | string): Promise<string> => {
    writeFileSync(given, content);
    const { message } = await refusalOf(prepareRestore(path, given, turn));
    expect(besides(path, "restore")).toEqual([]);
    return message.slice(message.indexOf(":") + 2);
  };
  expect(await refused("a letter to the gym")).toBe("it is not a backup.");
  expect(await refused("")).toBe("it is not a backup.");
  expect(await refused(made.subarray(0, 10_000))).toBe("it was cut short or changed since it was made.");
  expect(await refused(made.subarray(0, made.length - 1))).toBe("it was cut short or changed since it was made.");
  expect(await refused(Buffer.concat([made, made.subarray(0, 4096)]))).toBe(
    "it was cut short or changed since it was made.",
  );
  expect(await refused(made.subarray(0, 8192))).toMatch(/malformed|size|page|cut short/);
  const other = new Database(`${path}.other`);
  other.exec("CREATE TABLE recipe (name TEXT)");
  other.close();
  expect(await refused(readFileSync(`${path}.other`))).toBe("it is another program's database.");

  expect(await refusalOf(prepareRestore(path, `${path}.nowhere`, turn))).toMatchObject({ code: "out-of-range" });
  mkdirSync(`${path}.folder`);
  expect((await refusalOf(prepareRestore(path, `${path}.folder`, turn))).message).toContain("it is not a file");
  expect((await refusalOf(prepareRestore(path, path, turn))).message).toContain("it is the store itself");
});

test("a backup with any byte changed is refused, wherever it is", async () => {
  const { path, backup } = await backedUp(40);
  const made = readFileSync(backup);
  const given = `${path}.given`;
  const next = numbers(5);
  for (let round = 0; round < 120; round++) {
    const changed = Buffer.from(made);
    // The header and the seal more often than their size would have it.
    const start = round % 3 === 1 ? 0 : round % 3 === 2 ? made.length - SEAL_BYTES : 0;
    const end = round % 3 === 1 ? 100 : made.length;
    const at = start + Math.floor(next() * (end - start));
    changed[at]! ^= 1 << Math.floor(next() * 8);
    writeFileSync(given, changed);
    expect((await refusalOf(prepareRestore(path, given, turn))).code, `byte ${at}`).toBe("not-suited");
  }
  expect(besides(path, "restore")).toEqual([]);
});

test("a backup whose seal was cut off is whole and restored, and said to be none", async () => {
  const { path, backup } = await backedUp(7);
  truncateSync(backup, readFileSync(backup).length - SEAL_BYTES);
  expect(await prepareRestore(path, backup, turn)).toMatchObject({ sealed: false, sets: 7 });
  await after(path, (tables) => expect(seqs(tables)).toHaveLength(7));
});

test("a restore is taken back by restoring what it put aside, with what only its log holds", async () => {
  const { path, backup } = await backedUp(2);
  const tables = openTables(path);
  fill(tables, 3, 5);
  // As after a power cut: the log was never moved into the file.
  copyFileSync(path, `${path}.cut`);
  copyFileSync(`${path}-wal`, `${path}.cut-wal`);
  tables.methods.close();
  for (const piece of ["", "-wal"]) renameSync(`${path}.cut${piece}`, path + piece);
  await prepareRestore(path, backup, turn);
  await after(path, (restored) => expect(seqs(restored)).toHaveLength(2));
  await prepareRestore(path, `${path}.before-restore-1`, turn);
  await after(path, (restored) => expect(seqs(restored)).toHaveLength(5));
  expect(existsSync(`${path}.before-restore-2`)).toBe(true);
});

test("prepared, and damaged before it took its place: the store in use stays", async () => {
  const { path, backup } = await backedUp(3);
  await prepareRestore(path, backup, turn);
  const bytes = readFileSync(`${path}.restore`);
  writeFileSync(`${path}.restore`, bytes.subarray(0, 3 * 4096));
  await after(path, (tables) => {
    expect(tables.opened_with).toContain(`and is now ${path}.restore-refused-1; the store is as it was before.`);
    expect(seqs(tables)).toHaveLength(3);
  });
  await after(path, (tables) => expect(tables.opened_with).toBeNull());
});

test("nothing beside the store is written before the restore takes its place", async () => {
  const { backup } = await backedUp(1, ({ methods }) => methods.saveCalibration(inventedRecord(1)));
  const path = storePath();
  await prepareRestore(path, backup, turn);
  expect(existsSync(calibrationDirectory(path))).toBe(false);
  expect(readdirSync(dirname(path))).toEqual(["tidemark.db.restore"]);
});
