import {
  chmodSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import { expect, onTestFinished, test } from "vitest";
import { makeBackup } from "../../../recorder/store/backup.ts";
import { doApart } from "../../../recorder/store/backup-apart.ts";
import { SEAL_BYTES, sealOf } from "../../../recorder/store/backup-seal.ts";
import { NotDone } from "../../../recorder/store/backup-trouble.ts";
import { Database } from "../../../recorder/store/database.ts";
import { openStore } from "../../../recorder/store/store.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { exported } from "./exported.ts";
import { inventedLog, inventedSet, plainLog, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

const turn = async (): Promise<void> => {};
const NEVER_GIVEN_UP = new AbortController().signal;

/** A store with sets 1..count. */
function storeOf(count: number, path = storePath()): { path: string; store: ReturnType<typeof openTables> } {
  const store = openTables(path);
  for (let number = 1; number <= count; number++) {
    store.methods.keep(toKeep(inventedSet(number), "seat=3", inventedLog(number)));
  }
  onTestFinished(() => store.methods.close());
  return { path, store };
}

async function refusalOf(work: Promise<unknown>): Promise<NotDone["refusal"]> {
  const error = await work.then(
    () => null,
    (reason: unknown) => reason,
  );
  if (!(error instanceof NotDone)) throw new Error(`not refused: ${error}`);
  return error.refusal;
}

test("a backup is one ordinary database file with every set, its message and its log as they are in the store", async () => {
  const { path, store } = storeOf(30);
  const to = `${path}.backup`;
  const made = await makeBackup(path, to, turn);
  expect(made).toMatchObject({ store: store.store_id, sets: 30, logs: 30, last_set_seq: 30 });
  expect(made.unreadable).toEqual({ messages: 0, logs: 0 });
  expect(made.bytes).toBe(statSync(to).size);
  expect(readdirSync(dirname(path)).filter((name) => name.includes("backup"))).toEqual(["tidemark.db.backup"]);
  // Opened as any database is, by whoever has SQLite and no Tidemark.
  const copy = openTables(to);
  expect(copy.methods.sets({}).sets).toEqual(store.methods.sets({}).sets);
  expect(plainLog(copy.methods.set(uuidOf(7))!.log)).toEqual(inventedLog(7));
  copy.methods.close();
});

test("what is kept while it is made is not in it, and waits for nothing", async () => {
  const { path, store } = storeOf(400);
  let kept = 400;
  const made = await makeBackup(path, `${path}.backup`, async () => {
    kept += 1;
    store.methods.keep(toKeep(inventedSet(kept), "seat=3", inventedLog(kept)));
  });
  expect(made.sets).toBe(400);
  expect(kept).toBeGreaterThan(401);
  expect(store.methods.sets({ limit: 1 }).last_set_seq).toBe(kept);
  const copy = new Database(`${path}.backup`);
  expect(copy.get("SELECT max(set_seq) AS last FROM change_log")).toEqual({ last: 400 });
  copy.abandon();
});

test("the last line is the SHA-256 of everything before it", async () => {
  const { createHash } = await import("node:crypto");
  const { path } = storeOf(3);
  await makeBackup(path, `${path}.backup`, turn);
  const bytes = readFileSync(`${path}.backup`);
  const body = bytes.subarray(0, bytes.length - SEAL_BYTES);
  const sum = createHash("sha256").update(body).digest("hex");
  expect(bytes.subarray(-SEAL_BYTES).toString()).toBe(`tidemark-backup sha256 ${sum}\n`);
  expect(sealOf(`${path}.backup`)).toEqual({ sum, bytes: body.length });
});

test("a file that is there is never written over, nor one that comes to be there meanwhile", async () => {
  const { path } = storeOf(3);
  const to = `${path}.backup`;
  writeFileSync(to, "mine");
  expect(await refusalOf(makeBackup(path, to, turn))).toMatchObject({ code: "not-permitted" });
  expect(readFileSync(to, "utf8")).toBe("mine");
  let turns = 0;
  const later = `${path}.later`;
  const late = makeBackup(path, later, async () => {
    turns += 1;
    if (turns === 2) writeFileSync(later, "mine too");
  });
  expect((await refusalOf(late)).message).toContain("is there already");
  expect(readFileSync(later, "utf8")).toBe("mine too");
});

test("names that the store takes a meaning from are refused, and links that lead nowhere", async () => {
  const { path, store } = storeOf(1);
  const folder = join(dirname(path), "linked");
  symlinkSync(dirname(path), folder);
  const own = [
    ".restore",
    ".restore-ready-1",
    "-journal",
    ".version-3",
    ".unkept-a.json",
    ".before-restore-1",
    ".spare",
  ];
  for (const name of [...own.map((end) => path + end), join(folder, "tidemark.db.restore")]) {
    expect((await refusalOf(makeBackup(path, name, turn))).message).toContain("the store keeps for files of its own");
    expect(() => exported(store, name)).toThrow("the store keeps for files of its own");
    expect(existsSync(name)).toBe(false);
  }
  const link = join(dirname(path), "link");
  symlinkSync(join(dirname(path), "nowhere", "a"), link);
  symlinkSync(path, `${path}.b.partial`);
  for (const name of [link, `${path}.b`, path, folder]) {
    expect(await refusalOf(makeBackup(path, name, turn))).toMatchObject({ code: "not-permitted" });
    expect(() => exported(store, name)).toThrow(/ is there (already|and is not a file)/);
  }
  // The same name elsewhere means nothing.
  mkdirSync(join(dirname(path), "stick"));
  await makeBackup(path, join(dirname(path), "stick", "tidemark.db.restore"), turn);
  expect(store.methods.sets({}).sets).toHaveLength(1);
});

test("a folder that is not there or may not be written is said, and who writes", async () => {
  const { path } = storeOf(1);
  const nowhere = join(dirname(path), "nowhere", "a.backup");
  expect(await refusalOf(makeBackup(path, nowhere, turn))).toMatchObject({
    code: "out-of-range",
    message: `There is no folder ${dirname(nowhere)} on the recorder's machine.`,
  });
  const below = join(path, "a.backup");
  expect((await refusalOf(makeBackup(path, below, turn))).code).toBe("out-of-range");
  // Root may write everywhere; there a folder in the place of the unfinished file does the same.
  mkdirSync(`${path}.backup.partial`);
  const blocked = await refusalOf(makeBackup(path, `${path}.backup`, turn));
  expect(blocked).toMatchObject({ code: "not-permitted" });
  expect(existsSync(`${path}.backup.partial`)).toBe(true);
  if (process.getuid?.() === 0) return;
  const locked = join(dirname(path), "locked");
  mkdirSync(locked);
  chmodSync(locked, 0o500);
  expect(await refusalOf(makeBackup(path, join(locked, "a"), turn))).toMatchObject({ code: "not-permitted" });
});

test("what a killed one left is replaced", async () => {
  const { path } = storeOf(2);
  writeFileSync(`${path}.backup.partial`, "half of a file");
  writeFileSync(`${path}.backup.partial-journal`, "and its journal");
  await makeBackup(path, `${path}.backup`, turn);
  expect(readdirSync(dirname(path)).filter((name) => name.includes("partial"))).toEqual([]);
});

test("given up between two steps, it leaves nothing", async () => {
  const { path } = storeOf(2);
  const given_up = makeBackup(path, `${path}.backup`, () => Promise.reject(new NotDone("storage", "Given up.")));
  expect(await refusalOf(given_up)).toEqual({ code: "storage", message: "Given up." });
  expect(readdirSync(dirname(path)).filter((name) => name.includes("backup"))).toEqual([]);
});

test("a log or a message that the store itself cannot read is counted, not hidden", async () => {
  const { path, store } = storeOf(5);
  store.database.exec("UPDATE set_log SET log = x'0101000000000000' WHERE first_set_seq = 2");
  store.database.exec("UPDATE change_log SET message = '{' WHERE set_seq IN (3, 4)");
  expect((await makeBackup(path, `${path}.backup`, turn)).unreadable).toEqual({ messages: 2, logs: 1 });
});

test("a damaged store has no backup", async () => {
  const path = storePath();
  const store = openTables(path);
  for (let number = 1; number <= 200; number++)
    store.methods.keep(toKeep(inventedSet(number), "", inventedLog(number)));
  store.methods.close();
  const bytes = readFileSync(path);
  // In the middle of the file: some page of a table or an index.
  bytes.fill(0xa5, bytes.length / 2, bytes.length / 2 + 4096);
  writeFileSync(path, bytes);
  const refusal = await refusalOf(makeBackup(path, `${path}.backup`, turn));
  expect(refusal).toMatchObject({ code: "storage" });
  expect(refusal.message).toContain("damaged");
  expect(existsSync(`${path}.backup`)).toBe(false);
  expect(await refusalOf(makeBackup(`${path}-none`, `${path}.backup`, turn))).toMatchObject({ code: "storage" });
});

test("made in a process of its own beside a store in use, and given up at once when that is wished", async () => {
  const path = storePath();
  const store = await openStore({ path });
  onTestFinished(() => store.close());
  for (let number = 1; number <= 50; number++) await store.keep(toKeep(inventedSet(number), "", inventedLog(number)));
  const { made } = await doApart({ do: "backup", store_path: path, path: `${path}.one` }, NEVER_GIVEN_UP);
  expect(made).toMatchObject({ store: store.store_id, sets: 50, last_set_seq: 50 });
  const again = doApart({ do: "backup", store_path: path, path: `${path}.one` }, NEVER_GIVEN_UP);
  expect((await refusalOf(again)).message).toBe(`${path}.one is there already, and nothing is written over.`);

  const giving_up = new AbortController();
  const second = doApart({ do: "backup", store_path: path, path: `${path}.two` }, giving_up.signal);
  giving_up.abort();
  expect((await refusalOf(second)).message).toContain("given up");
  expect(existsSync(`${path}.two`)).toBe(false);
  await store.keep(toKeep(inventedSet(51), "", inventedLog(51)));
});
