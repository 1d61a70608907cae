/**
 * One recorder a file. Two would number the same sets and send the same outbox. The lock is SQLite's own on an empty
 * file beside the store, so the system frees it however the process ends, and others may still read the store.
 */
import { DatabaseSync } from "@photostructure/sqlite";
import { failureOf, resultCode, StoreFailure } from "./failure.ts";

const BUSY = 5;

export interface Lock {
  release(): void;
}

/** Throws a StoreFailure: `in-use` when somebody has it, `unopenable` or `read-only` when the file cannot be made. */
export function lockStore(path: string): Lock {
  const doing = `cannot open the store ${path}`;
  let connection: InstanceType<typeof DatabaseSync> | undefined;
  try {
    connection = new DatabaseSync(`${path}-lock`);
    // Nothing is ever written, so there is nothing to journal beside it.
    connection.exec("PRAGMA journal_mode = MEMORY; BEGIN EXCLUSIVE");
  } catch (error) {
    connection?.close();
    if (resultCode(error) !== BUSY) throw failureOf(error, doing);
    throw new StoreFailure("in-use", `${doing}: another recorder is running on it; stop that one first`, {
      cause: error,
    });
  }
  const held = connection;
  return { release: () => held.close() };
}
