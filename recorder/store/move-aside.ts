/** Takes a store out of the way, whole: SQLite finds the log of a file by its name, so the names stay matched. */
import { existsSync, readdirSync, renameSync, rmSync, statSync } from "node:fs";
import { basename, dirname } from "node:path";
import { failureOf } from "./failure.ts";
import { syncPath } from "./migrations.ts";

/** The file itself first: a log left behind alone is recognised at the next start, a file without its log is not. */
const PIECES = ["", "-wal", "-shm", "-journal"] as const;

/** Of a damaged store. Returns the new name of the file. Throws a StoreFailure. */
export const moveAside = (path: string): string => movePiecesTo(path, `${path}.damaged`);

/** To the next free name of those that begin so; returns it. Throws a StoreFailure. */
export function movePiecesTo(path: string, base: string): string {
  const to = freeName(base);
  movePieces(path, to, `cannot move the damaged store ${path} aside`);
  return to;
}

/**
 * Of a store that `other` takes the place of. A move that was cut short is gone on with, under its own name: then the file itself
 * went after `other` had come, and what it left behind belongs to it. null: there is nothing to move. Throws a StoreFailure.
 */
export function makeRoomAt(path: string, other: string): string | null {
  const doing = `cannot move the store ${path} aside`;
  const moved = existsSync(path) ? null : newestName(before(path));
  // Renaming a file changes its status, and so the time of that.
  if (moved !== null && existsSync(moved) && statSync(moved).ctimeMs >= statSync(other).ctimeMs) {
    movePieces(path, moved, doing);
    return moved;
  }
  if (!PIECES.some((piece) => existsSync(path + piece))) return null;
  const to = freeName(before(path));
  movePieces(path, to, doing);
  return to;
}

/** What the store that is in use will be called then; null: there is none. */
export const nameAside = (path: string): string | null => (existsSync(path) ? freeName(before(path)) : null);

/** A copy that came to nothing. */
export function removePieces(path: string): void {
  for (const piece of PIECES) rmSync(path + piece, { force: true });
}

const before = (path: string): string => `${path}.before-restore`;

function movePieces(path: string, to: string, doing: string): void {
  try {
    for (const piece of PIECES) {
      if (existsSync(path + piece)) renameSync(path + piece, to + piece);
    }
    syncPath(dirname(path));
  } catch (error) {
    throw failureOf(error, doing);
  }
}

/** The first name after all that were used: one that somebody deleted does not make a later one the older. */
function freeName(base: string): string {
  return `${base}-${newestNumber(base) + 1}`;
}

function newestName(base: string): string | null {
  const number = newestNumber(base);
  return number === 0 ? null : `${base}-${number}`;
}

function newestNumber(base: string): number {
  const start = `${basename(base)}-`;
  const numbers = readdirSync(dirname(base))
    .filter((name) => name.startsWith(start))
    .map((name) => Number(/^\d+/.exec(name.slice(start.length))?.[0] ?? 0));
  return Math.max(0, ...numbers);
}
