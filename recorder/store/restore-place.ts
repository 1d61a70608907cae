/**
 * Puts a restored store in the place of the one that was in use, before it is opened. Whatever moment the power goes at, the next
 * opening finds what it needs to go on: until the last renaming the restored store lies there under a name of its own, which says
 * what is still to be done, and what was done so far is done again to the same end.
 *
 * Runs in a process that ends with it: a connection that the library keeps open holds its files and locks until it is collected,
 * and nothing may hold a file that is renamed here when the store is opened under its name.
 */
import { existsSync, renameSync } from "node:fs";
import { dirname } from "node:path";
import { damageIn, holdingOf, notAStore } from "./backup-check.ts";
import { Database } from "./database.ts";
import { failureOf, StoreFailure } from "./failure.ts";
import { type Lock, lockStore } from "./lock.ts";
import { syncPath } from "./migrations.ts";
import { moveFormer, movePiecesTo, nextFormer, removePieces } from "./move-aside.ts";
import { type Standing, standingOf, takeOver, writeCalibrationFiles } from "./restore-merge.ts";
import { isPending, pendingPath, readyIn, readyPath } from "./restore-pending.ts";
import { STEPS } from "./steps.ts";

/** What became of a restore that was prepared, in a sentence or two for a person; null: there was none. Throws a StoreFailure. */
export function placeRestored(path: string): string | null {
  // Whoever comes late must not stand in the way of a recorder that has begun with it.
  if (!isPending(path)) return null;
  const said = placeLocked(path);
  // Not under the lock: a slow card takes its time for it, and the restored store can be found already.
  syncPath(dirname(path));
  return said;
}

function placeLocked(path: string): string | null {
  const lock = lockInTime(path);
  try {
    takeBack(path);
    // One that was cut short, and perhaps another that was asked for since.
    const former = rename(path);
    return makeReady(path) ?? rename(path) ?? former;
  } catch (error) {
    throw failureOf(error, `cannot put the restored store in the place of ${path}`);
  } finally {
    lock.release();
  }
}

const LOCK_WITHIN_MS = 10_000;
const LOCK_EVERY_MS = 50;

/** A recorder that was killed may have left a process that is still about this very work, and comes to its end soon. */
function lockInTime(path: string): Lock {
  const sleeping = new Int32Array(new SharedArrayBuffer(4));
  for (let waited_ms = 0; ; waited_ms += LOCK_EVERY_MS) {
    try {
      return lockStore(path);
    } catch (error) {
      const in_use = error instanceof StoreFailure && error.code === "in-use";
      if (!in_use || waited_ms >= LOCK_WITHIN_MS) throw error;
      Atomics.wait(sleeping, 0, 0, LOCK_EVERY_MS);
    }
  }
}

/** The store in use has not moved yet: what this box has learnt since then belongs into the restored one. */
function takeBack(path: string): void {
  const ready = readyIn(path);
  if (ready === null || !existsSync(path)) return;
  if (existsSync(pendingPath(path))) removePieces(ready.file);
  else renameSync(ready.file, pendingPath(path));
}

/** A sentence where it cannot be; null: it is, or there is nothing to. */
function makeReady(path: string): string | null {
  const pending = pendingPath(path);
  if (!existsSync(pending)) return null;
  const unfit = unfitOrTakenOver(pending, path);
  if (unfit !== null) {
    const to = movePiecesTo(pending, `${pending}-refused`);
    return `A restore was given up: what was prepared is damaged (${unfit}) and is now ${to}; the store is as it was before.`;
  }
  renameSync(pending, readyPath(path, nextFormer(path)));
  syncPath(dirname(path));
  removePieces(pending);
  return null;
}

/** Says so; null: there is nothing to rename. */
function rename(path: string): string | null {
  const ready = readyIn(path);
  if (ready === null) return null;
  const former = moveFormer(path, ready.number);
  renameSync(ready.file, path);
  const kept = former === null ? "" : ` What was in use before is in ${former}.`;
  return `The store ${path} was restored from a backup.${kept}`;
}

/** It was whole when it was prepared, and has been on a disk since. */
function unfitOrTakenOver(pending: string, path: string): string | null {
  let restored: Database | undefined;
  try {
    restored = new Database(pending);
    const wrong = notAStore(restored) ?? damageIn(restored) ?? ofAnotherVersion(restored);
    if (wrong !== null) return wrong;
  } catch (error) {
    restored?.abandon();
    return error instanceof Error ? error.message : String(error);
  }
  try {
    restored.exec("PRAGMA secure_delete = ON; PRAGMA synchronous = EXTRA");
    takeOver(restored, path, standingAt(path));
    writeCalibrationFiles(restored, path);
    return null;
  } finally {
    restored.abandon();
  }
}

/** Another version of the program prepared it. */
function ofAnotherVersion(restored: Database): string | null {
  const { schema_version } = holdingOf(restored);
  return schema_version === STEPS.length
    ? null
    : `it is of version ${schema_version}, and this program's is ${STEPS.length}`;
}

function standingAt(path: string): Standing | null {
  if (!existsSync(path)) return null;
  let present: Database | undefined;
  try {
    present = new Database(path);
    return standingOf(present);
  } catch {
    // Damaged, or of an older version: its zeros are as good as none.
    return null;
  } finally {
    present?.abandon();
  }
}
