/** Takes a damaged file out of the way, whole: SQLite finds the log of a file by its name, so the names stay matched. */
import { existsSync, renameSync } from "node:fs";
import { dirname } from "node:path";
import { failureOf } from "./failure.ts";
import { syncPath } from "./migrations.ts";

/** The file itself first: a log left behind alone is recognised at the next start, a file without its log is not. */
const PIECES = ["", "-wal", "-shm", "-journal"] as const;

/** Returns the new name of the file. Throws a StoreFailure. */
export function moveAside(path: string): string {
  const to = freeName(`${path}.damaged`);
  try {
    for (const piece of PIECES) {
      if (existsSync(path + piece)) renameSync(path + piece, to + piece);
    }
    syncPath(dirname(path));
  } catch (error) {
    throw failureOf(error, `cannot move the damaged store ${path} aside`);
  }
  return to;
}

function freeName(base: string): string {
  for (let number = 1; ; number++) {
    const name = `${base}-${number}`;
    if (!PIECES.some((piece) => existsSync(name + piece))) return name;
  }
}
