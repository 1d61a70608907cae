/** Reads a copy of the store through before anybody relies on it. */
import type { Database } from "./database.ts";
import { decodeInputLog } from "./input-log.ts";
import { APPLICATION_ID } from "./open.ts";

/** What a store holds, for comparing two copies of it. */
export interface Holding {
  readonly store: string;
  readonly schema_version: number;
  readonly sets: number;
  readonly logs: number;
  /** null: no set was ever kept. */
  readonly last_set_seq: number | null;
}

/** Sets whose message or input log no longer reads, though the file is whole. They were so in the store. */
export interface Unreadable {
  readonly messages: number;
  readonly logs: number;
}

/** Why this is no store, in words that go on a sentence; null: it is one, as far as its header goes. */
export function notAStore(database: Database): string | null {
  const tables = database.get<{ rows: number }>(
    "SELECT count(*) AS rows FROM sqlite_schema WHERE name = 'tidemark_store'",
  );
  if (database.pragma("application_id") !== APPLICATION_ID || tables?.rows !== 1)
    return "it is another program's database";
  const stored = database.get<{ schema_version: number }>("SELECT schema_version FROM tidemark_store");
  return stored?.schema_version === database.pragma("user_version") ? null : "its header does not match its content";
}

/** Of a file that is a store. */
export function holdingOf(database: Database): Holding {
  const stored = database.get<{ store: string; schema_version: number }>(
    "SELECT store_id AS store, schema_version FROM tidemark_store",
  );
  if (stored === undefined) throw new Error("a store has no id");
  const rows = (table: string): number =>
    database.get<{ rows: number }>(`SELECT count(*) AS rows FROM ${table}`)?.rows ?? 0;
  const last = database.get<{ seq: number | null }>("SELECT max(set_seq) AS seq FROM change_log");
  return { ...stored, sets: rows("kept_set"), logs: rows("set_log"), last_set_seq: last?.seq ?? null };
}

export const sameHolding = (one: Holding, other: Holding): boolean =>
  (Object.keys(one) as (keyof Holding)[]).every((key) => one[key] === other[key]);

/** Every page, index and row of the file, as SQLite checks them. null: nothing is wrong. */
export function damageIn(database: Database): string | null {
  const answer = database.pragma("integrity_check(1)");
  return answer === "ok" ? null : String(answer).replaceAll("\n", " ");
}

/** Reads the newest message and the input log of every set. */
export async function unreadableIn(database: Database, turn: () => Promise<void>): Promise<Unreadable> {
  let messages = 0;
  let logs = 0;
  let after = Number.MIN_SAFE_INTEGER;
  for (;;) {
    const rows = database.all<{ key: number; message: string | null; log: Uint8Array | null }>(
      `SELECT kept_set.first_set_seq AS key, change_log.message, set_log.log FROM kept_set
       LEFT JOIN change_log ON change_log.set_seq = kept_set.set_seq
       LEFT JOIN set_log ON set_log.first_set_seq = kept_set.first_set_seq
       WHERE kept_set.first_set_seq > ? ORDER BY kept_set.first_set_seq LIMIT ${AT_ONCE}`,
      after,
    );
    for (const { message, log } of rows) {
      if (message === null || !readsAsJson(message)) messages += 1;
      if (log === null || !decodeInputLog(log).ok) logs += 1;
    }
    const last = rows.at(-1);
    if (last === undefined || rows.length < AT_ONCE) return { messages, logs };
    after = last.key;
    await turn();
  }
}

const AT_ONCE = 200;

function readsAsJson(text: string): boolean {
  try {
    JSON.parse(text);
    return true;
  } catch {
    return false;
  }
}
