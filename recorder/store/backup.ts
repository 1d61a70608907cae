/**
 * A whole copy of the store as it was at one moment, made while the recorder goes on keeping sets, and read back before it gets
 * its name. Copying the database's file by itself is no backup: what was kept last is in the write-ahead log beside it.
 *
 * Runs in a process of its own (backup-process.ts), which may be killed at any moment; or in a command, where no recorder runs.
 */
import { accessSync, constants, existsSync, renameSync } from "node:fs";
import { type FileHandle, open } from "node:fs/promises";
import { dirname } from "node:path";
import { setTimeout } from "node:timers/promises";
import {
  damageIn,
  type Holding,
  holdingOf,
  notAStore,
  sameHolding,
  type Unreadable,
  unreadableIn,
} from "./backup-check.ts";
import { refuseFull } from "./backup-room.ts";
import { SEAL_BYTES, seal } from "./backup-seal.ts";
import { NotDone, troubleWith } from "./backup-trouble.ts";
import { Database } from "./database.ts";
import { failureOf, isDamage } from "./failure.ts";
import { syncPath } from "./migrations.ts";
import { removePieces } from "./move-aside.ts";
import { inTheWay } from "./new-file.ts";

export interface BackupMade extends Holding {
  readonly bytes: number;
  readonly unreadable: Unreadable;
}

const PAGES_AT_ONCE = 256;
const SYNC_EVERY_MS = 200;

/**
 * `turn` is waited for between steps, and rejects where the work is to be given up. Rejects with a NotDone; no file is left
 * then, and what was at `path` is as it was.
 */
export async function makeBackup(store_path: string, path: string, turn: () => Promise<void>): Promise<BackupMade> {
  const partial = `${path}.partial`;
  try {
    refuseTarget(path, store_path);
    // Before anything is made: what the system says of this folder is said of it.
    accessSync(dirname(path), constants.W_OK);
    const made = await copyTo(store_path, path, partial, turn);
    const unreadable = await readBack(partial, made, turn);
    const bytes = seal(partial);
    await turn();
    refuseTarget(path, store_path);
    renameSync(partial, path);
    syncPath(dirname(path));
    return { ...made, bytes, unreadable };
  } catch (error) {
    if (!isAnothers(error) && existsSync(partial)) removePieces(partial);
    throw troubleWith(error, path, "write");
  }
}

class Anothers extends NotDone {}
const isAnothers = (error: unknown): boolean => error instanceof Anothers;

function refuseTarget(path: string, store_path: string): void {
  const why = inTheWay(path, store_path);
  if (why !== null) throw new Anothers("not-permitted", `${why}.`, "Name another file.");
}

/** The snapshot is held by a transaction that only reads: whoever writes does not wait for it, nor does it see them. */
async function copyTo(store_path: string, path: string, partial: string, turn: () => Promise<void>): Promise<Holding> {
  if (!existsSync(store_path)) throw new NotDone("storage", `There is no store at ${store_path} to back up.`);
  const database = new Database(store_path);
  try {
    database.exec("PRAGMA query_only = ON; BEGIN");
    const wrong = notAStore(database);
    if (wrong !== null) throw new NotDone("storage", `${store_path} cannot be backed up: ${wrong}.`);
    const holding = holdingOf(database);
    const bytes = Number(database.pragma("page_count")) * Number(database.pragma("page_size")) + SEAL_BYTES;
    refuseFull(dirname(path), dirname(store_path), bytes);
    removePieces(partial);
    // Made here and not by the library, so that the system says why it cannot be, and not everybody may read it.
    const file = await open(partial, "wx", 0o640);
    try {
      await syncedWhile(file, database.copyTo(partial, PAGES_AT_ONCE));
    } finally {
      await file.close();
    }
    database.exec("ROLLBACK");
    await turn();
    return holding;
  } catch (error) {
    throw ofTheStore(error, store_path);
  } finally {
    database.abandon();
  }
}

/** Written to the disk as it comes about: all of it at once at the end would hold up the store's own commits on a slow card. */
async function syncedWhile(file: FileHandle, work: Promise<void>): Promise<void> {
  const over = new AbortController();
  const syncing = (async () => {
    while (!over.signal.aborted) {
      await setTimeout(SYNC_EVERY_MS, undefined, { signal: over.signal }).catch(() => {});
      await file.datasync();
    }
  })();
  try {
    await work;
  } finally {
    over.abort();
    await syncing;
  }
}

async function readBack(partial: string, made: Holding, turn: () => Promise<void>): Promise<Unreadable> {
  const copy = new Database(partial);
  try {
    // The header says that there is a log beside the file, as of the store; a backup is one file.
    copy.pragma("journal_mode = DELETE");
    const damage = damageIn(copy);
    if (damage !== null) {
      const message = `The store is damaged, so there is no backup of it: ${damage}.`;
      throw new NotDone("storage", message, "Restart the recorder: it checks its store at the start.");
    }
    if (notAStore(copy) !== null || !sameHolding(holdingOf(copy), made)) {
      throw new NotDone(
        "storage",
        "What was written is not what was read, so there is no backup.",
        "Try another disk.",
      );
    }
    await turn();
    return await unreadableIn(copy, turn);
  } finally {
    copy.abandon();
  }
}

/** What the database says of damage is about the store: nothing else was read. */
function ofTheStore(error: unknown, store_path: string): unknown {
  return isDamage(error) ? failureOf(error, `cannot back up the store ${store_path}`) : error;
}
