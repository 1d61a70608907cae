/**
 * Makes the store that a restore begins with: a copy of the backup beside the store that is in use, complete, checked and on the
 * disk before it gets the name under which the next opening finds it. What is in use is not touched.
 *
 * It gets an id of its own: readers of the former store would take its numbers for sets they have seen.
 */
import { randomUUID } from "node:crypto";
import {
  chmodSync,
  chownSync,
  closeSync,
  existsSync,
  openSync,
  readSync,
  realpathSync,
  renameSync,
  statSync,
} from "node:fs";
import { dirname } from "node:path";
import { damageIn, type Holding, holdingOf, notAStore } from "./backup-check.ts";
import { refuseFull } from "./backup-room.ts";
import { copySynced, sealOf } from "./backup-seal.ts";
import { NotDone, noBackup, troubleWith } from "./backup-trouble.ts";
import { Database } from "./database.ts";
import { isDamageAtFirstLook } from "./failure.ts";
import { migrate, syncPath } from "./migrations.ts";
import { nameAside, removePieces } from "./move-aside.ts";
import { partialPath, pendingPath, readyIn } from "./restore-pending.ts";
import { STEPS } from "./steps.ts";

export interface Prepared extends Holding {
  /** Of the restored store; `store` is the former one's. */
  readonly new_store: string;
  /** What the store in use will be called; null: there is none. */
  readonly kept_aside: string | null;
  /** False: a file of a store, but not one that `backup` made. */
  readonly sealed: boolean;
}

/** Rejects with a NotDone; nothing is left then. */
export async function prepareRestore(store_path: string, path: string, turn: () => Promise<void>): Promise<Prepared> {
  const partial = partialPath(store_path);
  try {
    const source = lookAt(path, store_path);
    refuseAnothers(store_path);
    refuseFull(dirname(store_path), dirname(store_path), source.bytes);
    removePieces(partial);
    copyOf(path, partial, source);
    await turn();
    const prepared = await settled(partial, path, source.sealed !== null, turn);
    takeOwner(partial, store_path);
    syncPath(partial);
    await turn();
    forgetEarlier(store_path);
    renameSync(partial, pendingPath(store_path));
    syncPath(dirname(store_path));
    return { ...prepared, kept_aside: nameAside(store_path) };
  } catch (error) {
    removePieces(partial);
    throw error instanceof ReadTrouble
      ? troubleWith(error.cause, path, "read")
      : troubleWith(error, store_path, "write");
  }
}

/** One that was asked for before, and has not begun; where it has, it comes to its end before this one. */
function forgetEarlier(store_path: string): void {
  removePieces(pendingPath(store_path));
  const ready = readyIn(store_path);
  if (ready !== null && existsSync(store_path)) removePieces(ready.file);
}

class ReadTrouble extends Error {}

interface Source {
  /** As its seal says; null: it has none. */
  readonly sealed: string | null;
  /** Of the database in it. */
  readonly bytes: number;
  /** There is a log beside it that belongs to it: a store that was moved aside. */
  readonly wal: boolean;
}

const MAGIC = "SQLite format 3\0";

function lookAt(path: string, store_path: string): Source {
  let size: number;
  let head: Buffer;
  let found: ReturnType<typeof sealOf>;
  try {
    const file = statSync(path);
    if (!file.isFile()) throw noBackup(path, "it is not a file");
    if (existsSync(store_path) && realpathSync(path) === realpathSync(store_path)) {
      throw noBackup(path, "it is the store itself");
    }
    size = file.size;
    head = headOf(path);
    found = sealOf(path);
  } catch (error) {
    throw error instanceof NotDone ? error : new ReadTrouble("", { cause: error });
  }
  if (head.toString("latin1", 0, MAGIC.length) !== MAGIC) throw noBackup(path, "it is not a backup");
  if (found !== null) return { sealed: found.sum, bytes: found.bytes, wal: false };
  // SQLite, "Database File Format", 1.3.2: the page size, 1 stands for 65536.
  const stated = head.readUInt16BE(16);
  if (size % (stated === 1 ? 65_536 : stated) !== 0)
    throw noBackup(path, "it was cut short or changed since it was made");
  return { sealed: null, bytes: size, wal: (statSync(`${path}-wal`, { throwIfNoEntry: false })?.size ?? 0) > 0 };
}

function headOf(path: string): Buffer {
  const file = openSync(path, "r");
  try {
    const head = Buffer.alloc(100);
    readSync(file, head, 0, head.length, 0);
    return head;
  } finally {
    closeSync(file);
  }
}

/** A store that goes by our path and is not ours is nobody's to put aside. */
function refuseAnothers(store_path: string): void {
  if (!existsSync(store_path)) return;
  if (!statSync(store_path).isFile())
    throw new NotDone("storage", `${store_path}, where the store belongs, is not a file.`);
  const present = new Database(store_path);
  let tables: number | undefined;
  try {
    tables = present.get<{ rows: number }>("SELECT count(*) AS rows FROM sqlite_schema")?.rows;
    if (tables === 0 || notAStore(present) !== "it is another program's database") return;
  } catch {
    // Damaged: the more reason to restore.
    return;
  } finally {
    present.abandon();
  }
  const message = `${store_path}, where the store belongs, is another program's database.`;
  throw new NotDone("storage", message, "Name another path for the store.");
}

function copyOf(path: string, partial: string, { sealed, bytes, wal }: Source): void {
  const sum = copySynced(path, partial, bytes);
  if (sealed !== null && sum !== sealed) throw noBackup(path, "it was changed since it was made");
  if (wal) copySynced(`${path}-wal`, `${partial}-wal`, statSync(`${path}-wal`).size);
}

async function settled(
  partial: string,
  path: string,
  sealed: boolean,
  turn: () => Promise<void>,
): Promise<Omit<Prepared, "kept_aside">> {
  let copy: Database | undefined;
  try {
    copy = new Database(partial);
    copy.pragma("journal_mode = DELETE");
    const wrong = notAStore(copy) ?? damageIn(copy);
    if (wrong !== null) throw noBackup(path, wrong);
    await turn();
    const holding = holdingOf(copy);
    refuseNewer(holding, path);
    copy.exec("PRAGMA secure_delete = ON; PRAGMA trusted_schema = OFF; PRAGMA synchronous = FULL");
    migrate(copy, holding.schema_version, STEPS, false);
    const new_store = randomUUID();
    begunAnew(copy, new_store);
    return { ...holding, new_store, sealed };
  } catch (error) {
    throw isDamageAtFirstLook(error) ? noBackup(path, `it is damaged (${(error as Error).message})`) : error;
  } finally {
    copy?.abandon();
  }
}

function refuseNewer({ schema_version }: Holding, path: string): void {
  if (schema_version <= STEPS.length) return;
  const message = `${path} is of version ${schema_version}, and this program knows up to ${STEPS.length}.`;
  throw new NotDone("not-suited", message, "Restore it with the program that made it, or a newer one.");
}

/** Sets that ran then run no longer, and where the zero stood then it need not stand now. */
function begunAnew(copy: Database, new_store: string): void {
  copy.transaction(() => {
    copy.run("UPDATE tidemark_store SET store_id = ?", new_store);
    for (const table of ["running_part", "zero_state", "zero_moved"]) copy.run(`DELETE FROM ${table}`);
  });
}

/** Root may have asked for it; who records must be able to write it. */
function takeOwner(partial: string, store_path: string): void {
  chmodSync(partial, 0o640);
  if (process.getuid?.() !== 0) return;
  const { uid, gid } = statSync(existsSync(store_path) ? store_path : dirname(store_path));
  chownSync(partial, uid, gid);
}
