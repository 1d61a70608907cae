/**
 * Opens the store's file for good or says in one sentence why not: looks at it before changing anything, sets what each
 * connection must set, checks it, moves a damaged one aside and begins a new one, migrates.
 *
 * What is damaged is moved, never deleted or repaired: a repair could bring back less than a person with the file can.
 */
import { closeSync, existsSync, openSync, rmSync, statSync, writeFileSync } from "node:fs";
import { dirname } from "node:path";
import { Database } from "./database.ts";
import { failureOf, isDamageAtFirstLook, StoreFailure, saysReadOnly } from "./failure.ts";
import { type Lock, lockStore } from "./lock.ts";
import { migrate } from "./migrations.ts";
import { moveAside } from "./move-aside.ts";
import { STEPS, WIDE_TABLES } from "./steps.ts";

/** "TdmK". Tells our files from other programs' databases, and is what `file` shows. */
export const APPLICATION_ID = 0x54646d4b;
/** Up to this size every page is checked at each start, about a second on a slow card; beyond, all but the wide tables. */
const WHOLE_CHECK_BYTES = 64 * 1024 * 1024;
/** The log is cut back to this after a checkpoint; SQLite checkpoints at 1000 pages, 4 MiB. */
const JOURNAL_LIMIT_BYTES = 4 * 1024 * 1024;
const FULL = 2;

export interface OpenedFile {
  readonly database: Database;
  readonly store_id: string;
  /** There was nothing at its path, or nothing any more. */
  readonly begun: boolean;
  /** Where a damaged file went, and what was the matter; null: there was none. */
  readonly moved: { readonly to: string; readonly why: string } | null;
  /** Where the copy made before a migration is; null: none was needed. */
  readonly copied: string | null;
  close(): void;
  /** The same without tidying up first: no more than the syncs that are under way. */
  abandon(): void;
}

/** Throws a StoreFailure. */
export function openFile(path: string, steps: readonly string[] = STEPS): OpenedFile {
  refuseImpossible(path);
  const lock = lockStore(path);
  try {
    const first = attempt(path, steps);
    if (!(first instanceof Damage)) return opened(first, lock, null);
    const to = moveAside(path);
    rmSync(suspectMark(path), { force: true });
    const second = attempt(path, steps);
    if (!(second instanceof Damage)) return opened(second, lock, { to, why: first.message });
    throw new StoreFailure("unopenable", `cannot begin a new store at ${path}: ${second.message}`);
  } catch (error) {
    lock.release();
    throw error;
  }
}

/** Has the next start read through the whole file. Called when a request met damage that the start had not seen. */
export function markSuspect(path: string): void {
  try {
    writeFileSync(suspectMark(path), "a request met damage in this file; the next start checks all of it\n");
  } catch {
    // A full or read-only disk: the request that met the damage still fails, and says why.
  }
}

const suspectMark = (path: string): string => `${path}-suspect`;

class Damage extends Error {}

interface Ready {
  readonly database: Database;
  readonly begun: boolean;
  readonly copied: string | null;
}

function opened(ready: Ready, lock: Lock, moved: OpenedFile["moved"]): OpenedFile {
  const { database, begun, copied } = ready;
  const row = database.get<{ store_id: string }>("SELECT store_id FROM tidemark_store");
  if (row === undefined) throw new Error("a migrated store has no id");
  const close = (): void => {
    try {
      database.close();
    } finally {
      lock.release();
    }
  };
  const abandon = (): void => {
    try {
      database.abandon();
    } finally {
      lock.release();
    }
  };
  return { database, store_id: row.store_id, begun, moved, copied, close, abandon };
}

function refuseImpossible(path: string): void {
  const directory = dirname(path);
  if (!existsSync(directory)) {
    throw new StoreFailure(
      "unopenable",
      `cannot open the store ${path}: the directory ${directory} does not exist; make it, or name another path`,
    );
  }
  if (existsSync(path) && !statSync(path).isFile()) {
    throw new StoreFailure("unopenable", `cannot open the store ${path}: that is not a file; name another path`);
  }
}

function attempt(path: string, steps: readonly string[]): Ready | Damage {
  // A log without its file: SQLite would drop it as a stranger's.
  if (sizeOf(path) === 0 && sizeOf(`${path}-wal`) > 0) return new Damage("the file is empty, but its log is not");
  let database: Database | undefined;
  let version: number;
  try {
    database = new Database(path);
    version = versionOf(database, steps.length);
    check(database);
    settle(database, version === 0);
  } catch (error) {
    database?.abandon();
    if (error instanceof Damage) return error;
    // A writable file that cannot be written has a header that says so.
    if (isDamageAtFirstLook(error) || (saysReadOnly(error) && writable(path))) {
      return new Damage(error instanceof Error ? error.message : String(error));
    }
    throw failureOf(error, `cannot open the store ${path}`);
  }
  try {
    return { database, begun: version === 0, copied: migrate(database, version, steps) };
  } catch (error) {
    database.abandon();
    throw error;
  }
}

/** The file's version, 0 for an empty one. Only reads, so that another program's file is left as it was. */
function versionOf(database: Database, newest: number): number {
  const application = database.pragma("application_id");
  const version = Number(database.pragma("user_version"));
  const tables = tablesOf(database);
  if (!tables.includes("tidemark_store")) {
    if (application !== APPLICATION_ID && (tables.length > 0 || application !== 0)) {
      throw new StoreFailure(
        "not-ours",
        `${database.path} is another program's database; name another path for the store`,
      );
    }
    if (tables.length > 0 || version > 0) throw new Damage("its tables are gone");
    return 0;
  }
  const stored = database.get<{ schema_version: number }>("SELECT schema_version FROM tidemark_store");
  if (application !== APPLICATION_ID || stored?.schema_version !== version) {
    throw new Damage("its header does not match its content");
  }
  if (version > newest) {
    throw new StoreFailure(
      "newer",
      `the store ${database.path} is of version ${version} and this program knows up to ${newest}: ` +
        "run the newer program, or restore a copy made before it",
    );
  }
  return version;
}

/** What must be set on each connection, and what a new file must get before its first table; asserted, not hoped for. */
function settle(database: Database, fresh: boolean): void {
  // First of all: it can no longer be chosen once the first page is written, and setting the application id writes it.
  if (fresh) database.exec("PRAGMA auto_vacuum = INCREMENTAL");
  database.exec("PRAGMA secure_delete = ON; PRAGMA cell_size_check = ON; PRAGMA trusted_schema = OFF");
  if (database.pragma("journal_mode = WAL") !== "wal") {
    throw new StoreFailure("unopenable", `the disk of ${database.path} cannot hold a write-ahead log; use a local one`);
  }
  database.exec(`PRAGMA synchronous = FULL; PRAGMA journal_size_limit = ${JOURNAL_LIMIT_BYTES}`);
  // SQLite opens what it cannot write for reading only, without a word, and lets even a transaction begin.
  database.exec("BEGIN IMMEDIATE; PRAGMA user_version = 0; ROLLBACK");
  if (fresh) database.exec(`PRAGMA application_id = ${APPLICATION_ID}`);
  // This build of SQLite falls back to NORMAL for a file with a write-ahead log, which may lose the last sets in a power cut.
  if (database.pragma("synchronous") !== FULL) {
    throw new StoreFailure(
      "other",
      `the store ${database.path} does not sync each set to the disk; this is a broken build`,
    );
  }
}

function check(database: Database): void {
  const suspect = existsSync(suspectMark(database.path));
  if (suspect) {
    complain(database, "integrity_check(1)");
    rmSync(suspectMark(database.path), { force: true });
  } else if (sizeOf(database.path) <= WHOLE_CHECK_BYTES) {
    complain(database, "quick_check(1)");
  } else {
    for (const table of tablesOf(database)) {
      if (!WIDE_TABLES.has(table)) complain(database, `quick_check(${table})`);
    }
  }
}

function complain(database: Database, pragma: string): void {
  const answer = database.pragma(pragma);
  if (answer !== "ok") throw new Damage(String(answer).replaceAll("\n", " "));
}

function tablesOf(database: Database): string[] {
  return database
    .all<{ name: string }>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite^_%' ESCAPE '^'",
    )
    .map((row) => row.name);
}

function sizeOf(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}

/** Asks the way SQLite does, with the rights in effect. Only once the file is abandoned: closing it drops all its locks. */
function writable(path: string): boolean {
  try {
    closeSync(openSync(path, "r+"));
    return true;
  } catch {
    return false;
  }
}
