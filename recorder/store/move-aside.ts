/** Takes a store out of the way, whole: SQLite finds the log of a file by its name, so the names stay matched. */
import { existsSync, readdirSync, renameSync, rmSync } from "node:fs";
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

/** Of a store that another one takes the place of; the same again goes on with what was cut short. Throws a StoreFailure. */
export function moveFormer(path: string, number: number): string | null {
  const to = `${before(path)}-${number}`;
  movePieces(path, to, `cannot move the store ${path} aside`);
  return existsSync(to) ? to : null;
}

/** The number that the store in use will have then. */
export const nextFormer = (path: string): number => newestNumber(before(path)) + 1;

/** What the store in use will be called then; null: there is none. */
export const nameAside = (path: string): string | null =>
  existsSync(path) ? `${before(path)}-${nextFormer(path)}` : null;

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

function newestNumber(base: string): number {
  const start = `${basename(base)}-`;
  const numbers = readdirSync(dirname(base))
    .filter((name) => name.startsWith(start))
    .map((name) => Number(/^\d+/.exec(name.slice(start.length))?.[0] ?? 0));
  return Math.max(0, ...numbers);
}
