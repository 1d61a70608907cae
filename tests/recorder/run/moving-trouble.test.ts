/** Exports and imports that are broken off, by whatever it is; through their processes, beside a store of its own. */
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { expect, onTestFinished, test } from "vitest";
import type { ImportPiece } from "../../../recorder/care-ports.ts";
import type { Store } from "../../../recorder/ports.ts";
import { type CarePorts, careOf } from "../../../recorder/run/care.ts";
import { importFrom } from "../../../recorder/run/importing-file.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { openStore } from "../../../recorder/store/store.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { exported } from "../store/exported.ts";
import { inventedLog, inventedSet, START_MS, toKeep, uuidOf } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";
import { SILENT } from "./gym-service.ts";

const SETS = 300;

/** 300 sets, more than is read from the file at once. */
function exportedFile(): string {
  const tables = openTables(storePath());
  for (let number = 1; number <= SETS; number++) {
    tables.methods.keep(toKeep(inventedSet(number), "", inventedLog(number, 300)));
  }
  const path = join(dirname(tables.database.path), "all.jsonl");
  exported(tables, path);
  tables.methods.close();
  return path;
}

interface Place {
  readonly ports: CarePorts;
  readonly store: Store;
  readonly stopping: AbortController;
}

/** `meanwhile` is done with each piece, before it is written. */
async function placeFor(meanwhile: (piece: ImportPiece, stopping: AbortController) => void = () => {}): Promise<Place> {
  const path = storePath();
  const store = await openStore({ path });
  onTestFinished(() => store.close());
  const stopping = new AbortController();
  const watched: Store = {
    ...store,
    importPiece: async (piece) => {
      meanwhile(piece, stopping);
      return store.importPiece(piece);
    },
  };
  const now = () => ({ ms: 0, wall_ms: START_MS, clock_synced: true });
  const where = { path, recorder: "hall-box", site: "north-hall", stopping: stopping.signal };
  const rest = { store: watched, loops: new Map(), now, log: SILENT };
  return { ports: { ...where, ...rest } as unknown as CarePorts, store, stopping };
}

const kept = async (store: Store): Promise<number> => (await store.sets({})).sets.length;

test("an import is broken off by a recorder that stops, and finished by the next", async () => {
  const file = exportedFile();
  let pieces = 0;
  const { ports, store } = await placeFor((_piece, stopping) => {
    pieces += 1;
    if (pieces === 3) stopping.abort();
  });
  const stopped = await importFrom(file, null, ports);
  expect(stopped).toMatchObject({
    error: {
      code: "busy",
      message: "The recorder stops, so the import was broken off. Some of the file may be imported already.",
      hint: expect.stringMatching(/^Import the same file again/),
    },
  });
  expect(await kept(store)).toBeGreaterThan(0);
  expect(await kept(store)).toBeLessThan(SETS);
  const before = await kept(store);
  const again = await importFrom(file, null, { ...ports, stopping: new AbortController().signal });
  expect(again).toMatchObject({ ok: true, result: { imported: { sets: SETS - before }, known: { sets: before } } });
  expect((await store.latest("leg-press"))?.set_id).toBe(uuidOf(SETS));
});

test("a recorder that stops already begins neither", async () => {
  const file = exportedFile();
  const { ports, store, stopping } = await placeFor();
  stopping.abort();
  expect(await importFrom(file, null, ports)).toMatchObject({
    error: { code: "busy", message: expect.stringContaining("Nothing was imported.") },
  });
  const path = join(dirname(ports.path), "out.jsonl");
  expect(await careOf(ports).exportTo({ path })).toMatchObject({
    error: { code: "busy", message: "The recorder stops, so the export was broken off." },
  });
  expect([existsSync(path), existsSync(`${path}.partial`)]).toEqual([false, false]);
  expect(await kept(store)).toBe(0);
});

test("a file that is changed while it is read is taken no further", async () => {
  const file = exportedFile();
  const text = readFileSync(file, "utf8");
  const { ports, store } = await placeFor(({ sets_left }) => {
    if (sets_left === SETS) writeFileSync(file, text.replaceAll('"best_force_N":12', '"best_force_N":13'));
  });
  expect(await importFrom(file, null, ports)).toMatchObject({
    error: { code: "storage", message: "The file was changed while it was read, so the import was broken off." },
  });
  const { sets } = await store.sets({});
  expect(sets.length).toBeGreaterThan(0);
  // Whatever was written is what was checked.
  for (const set of sets) expect(set.best_force_N).toBe(1000 + Number.parseInt(set.set_id.slice(-12), 16));
});

test("a store that cannot take a piece ends the import with its reason", async () => {
  const file = exportedFile();
  const { ports } = await placeFor(({ sets_left }) => {
    if (sets_left < SETS) throw new StoreFailure("disk-full", "cannot import: the disk is full; make space on it");
  });
  expect(await importFrom(file, null, ports)).toMatchObject({
    error: { code: "storage", message: "The import failed: cannot import: the disk is full; make space on it." },
  });
});

test("a disk without room for the file is not filled with it", async () => {
  const file = exportedFile();
  const { ports, store } = await placeFor();
  const free = async (): Promise<number> => 64 * 1024 * 1024 + 1000;
  expect(await importFrom(file, null, ports, free)).toMatchObject({
    error: {
      code: "storage",
      message: expect.stringMatching(/no room for what is in the file, up to \d MB\. Nothing was imported\.$/),
    },
  });
  expect(await kept(store)).toBe(0);
  expect(await importFrom(file, null, ports, async () => null)).toMatchObject({ ok: true });
});

test("a line that would fill the memory ends the import, not the recorder", async () => {
  const file = exportedFile();
  const header = readFileSync(file, "utf8").split("\n")[0];
  const { ports, store } = await placeFor();
  writeFileSync(file, `${header}\n{"kind":"set","x":[${"{},".repeat(5_400_000)}{}]}\n`);
  expect(await importFrom(file, null, ports)).toMatchObject({ ok: false });
  expect(await kept(store)).toBe(0);
});

test("work on the whole record is done one piece at a time, whatever it is, and a failure gives the place free", async () => {
  const file = exportedFile();
  const { ports } = await placeFor();
  const care = careOf(ports);
  const importing = care.importFrom(file, null);
  const path = join(dirname(ports.path), "out.jsonl");
  expect(await care.exportTo({ path })).toMatchObject({
    error: { code: "busy", message: "An import is under way since 2026-11-24T09:00:00.000Z." },
  });
  expect(await importing).toMatchObject({ ok: true });
  expect(await care.importFrom("/nowhere.jsonl", null)).toMatchObject({ error: { code: "out-of-range" } });
  expect(await care.exportTo({ path })).toMatchObject({ ok: true, result: { sets: SETS } });
});
