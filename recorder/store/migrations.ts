/**
 * Takes a file to the program's version of the schema, one step and one transaction at a time. An existing file is copied
 * first, whole and checked to be on the disk. The version is in the file twice, `user_version` and
 * `tidemark_store.schema_version`; where they differ the file is damaged, not newer.
 */
import { randomUUID } from "node:crypto";
import { closeSync, fsyncSync, openSync, renameSync, rmSync } from "node:fs";
import { dirname } from "node:path";
import type { Database } from "./database.ts";
import { failureOf } from "./failure.ts";

/** Returns where the copy is, or null if none was needed: `copies` false says that the file is one already. Throws a StoreFailure; the file is then as the last whole step left it. */
export function migrate(database: Database, version: number, steps: readonly string[], copies = true): string | null {
  if (version === steps.length) return null;
  try {
    const copy = version === 0 || !copies ? null : copyAside(database, version);
    for (let done = version; done < steps.length; done++) takeStep(database, steps[done]!, done + 1);
    return copy;
  } catch (error) {
    throw failureOf(error, `cannot bring the store ${database.path} from version ${version} to ${steps.length}`);
  }
}

function takeStep(database: Database, step: string, version: number): void {
  database.transaction(() => {
    database.exec(step);
    if (version === 1) {
      database.run("INSERT INTO tidemark_store (only, store_id, schema_version) VALUES (1, ?, 1)", randomUUID());
    }
    database.run("UPDATE tidemark_store SET schema_version = ?", version);
    database.exec(`PRAGMA user_version = ${version}`);
  });
}

/** SQLite does not sync what VACUUM INTO writes, so it gets its name only once it is on the disk. */
function copyAside(database: Database, version: number): string {
  const copy = `${database.path}.version-${version}`;
  const partial = `${copy}.partial`;
  rmSync(partial, { force: true });
  database.run("VACUUM INTO ?", partial);
  syncPath(partial);
  renameSync(partial, copy);
  syncPath(dirname(copy));
  return copy;
}

/** Makes what was written or renamed at `path`, a file or a directory, last through a power cut. */
export function syncPath(path: string): void {
  const file = openSync(path, "r");
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}
