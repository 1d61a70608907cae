/** A code in the logs of other people's sets: who armed one for whom stands at its head. What was measured stays to the byte. */
import type { ErasedClaims } from "../care-ports.ts";
import type { Database } from "./database.ts";
import { decodeInputLog, encodeInputLog, logMentions } from "./input-log.ts";

export interface LogRow {
  readonly first_set_seq: number;
  /** Whose set it is now. */
  readonly trainee: string | null;
  readonly log: Uint8Array;
}

/** Within a transaction. The present owner takes the erased one's place; who asked is nobody. */
export function eraseFromLog(database: Database, row: LogRow, erased: string): "rewritten" | "free" | "unreadable" {
  const mentions = logMentions(row.log, JSON.stringify(erased));
  if (mentions === false) return "free";
  const decoded = mentions === null ? null : decodeInputLog(row.log);
  if (decoded === null || !decoded.ok) return "unreadable";
  const { log } = decoded;
  const clean = <T>(value: T): T => without(value, erased, row.trainee) as T;
  const events = log.events.map(({ before, event }) => ({ before, event: clean(event) }));
  const written = encodeInputLog({ ...log, arm: clean(log.arm), events });
  if (Buffer.compare(written, row.log) === 0) return "free";
  database.run("UPDATE set_log SET log = ? WHERE first_set_seq = ?", written, row.first_set_seq);
  return "rewritten";
}

function without(value: unknown, erased: string, owner: string | null): unknown {
  if (Array.isArray(value)) return value.map((each) => without(each, erased, owner));
  if (typeof value !== "object" || value === null) return value;
  const fields = Object.entries(value).map(([name, field]) => {
    // The record a set was measured by is as it was kept: who took it is part of what forces are trusted by.
    if (name === "calibration") return [name, field];
    if (name === "performed_by" && field === erased) return [name, null];
    if (name === "trainee" && field === erased) return [name, owner];
    return [name, without(field, erased, owner)];
  });
  return Object.fromEntries(fields);
}

/** Looks through some logs from the one behind `after` on. Reading is most of it, and takes no lock. */
export function eraseClaims(database: Database, erased: string, from: number | null, piece_ms: number): ErasedClaims {
  const until = performance.now() + piece_ms;
  const found: (LogRow & { readonly set_id: string })[] = [];
  let after: number | null = from;
  do {
    const row: (LogRow & { set_id: string }) | undefined = database.get(
      `SELECT first_set_seq, kept_set.trainee, kept_set.set_id, log FROM set_log JOIN kept_set USING (first_set_seq)
       WHERE first_set_seq > ? ORDER BY first_set_seq LIMIT 1`,
      after ?? Number.MIN_SAFE_INTEGER,
    );
    after = row?.first_set_seq ?? null;
    if (row !== undefined && logMentions(row.log, JSON.stringify(erased)) !== false) found.push(row);
  } while (after !== null && performance.now() < until);
  if (found.length === 0) return { claims: 0, unreadable: [], after };
  return database.transaction(() => {
    const outcomes = found.map((row) => ({ set_id: row.set_id, outcome: eraseFromLog(database, row, erased) }));
    return {
      claims: outcomes.filter(({ outcome }) => outcome === "rewritten").length,
      unreadable: outcomes.flatMap(({ set_id, outcome }) => (outcome === "unreadable" ? [set_id] : [])),
      after,
    };
  });
}
