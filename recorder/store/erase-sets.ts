/**
 * The sets of an erasure, a few at a time: every transaction ends after some milliseconds, so that others are served between
 * them. An erased set leaves a row in the change log that says so and nothing else, and its announcement.
 */
import type { ErasedSets, Erasure, ErasureNotice, ErasurePlace } from "../care-ports.ts";
import type { Database } from "./database.ts";
import { eraseFromLog } from "./erase-logs.ts";
import { putInOutbox } from "./outbox.ts";

/** A transaction begins nothing more after this, ms; the commit comes to it. */
export const PIECE_MS = 4;

interface Found {
  readonly set_id: string;
  /** Of the set as it stands; null: it is somebody else's by now, or nobody's. */
  readonly station: string | null;
}

export function eraseSets(
  database: Database,
  store_id: string,
  erasure: Erasure,
  notice: ErasureNotice,
  from: ErasurePlace | null,
): ErasedSets {
  const until = performance.now() + PIECE_MS;
  return database.transaction(() => {
    const sets: { set_id: string; station: string; message: string }[] = [];
    const unreadable: string[] = [];
    const counts = { outbox: 0, others: 0, claims: 0, undated: 0 };
    let after = from;
    let more = true;
    do {
      const { trainee, ended_before } = erasure;
      if (trainee !== null) {
        const found = nextOf(database, trainee);
        if (found === undefined) {
          more = dropClaim(database, trainee);
          counts.claims += Number(more);
        } else if (found.station === null) {
          const { outbox, readable } = eraseRevisions(database, trainee, found.set_id);
          counts.outbox += outbox;
          counts.others += 1;
          if (!readable) unreadable.push(found.set_id);
        } else {
          const { message, outbox } = eraseSet(database, store_id, { ...found, station: found.station }, notice);
          counts.outbox += outbox;
          sets.push({ set_id: found.set_id, station: found.station, message });
        }
        continue;
      }
      const old: Old | undefined = nextOld(database, ended_before ?? "", after);
      more = old !== undefined;
      if (old === undefined) break;
      after = { started_at_ms: old.started_at_ms, set_seq: old.set_seq };
      if (old.ended_at >= (ended_before ?? "")) continue;
      if (old.synced !== 1) {
        counts.undated += 1;
        continue;
      }
      const { message, outbox } = eraseSet(database, store_id, old, notice);
      counts.outbox += outbox;
      sets.push({ set_id: old.set_id, station: old.station, message });
    } while (more && performance.now() < until);
    if (sets.length > 0) {
      database.run("UPDATE erasure SET sets = sets + ? WHERE erasure = ?", sets.length, erasure.erasure);
    }
    return { sets, ...counts, unreadable, after, more };
  });
}

/** By the sets first: the text of one may be damaged, and then its own row alone says whose it is. */
export function nextOf(database: Database, trainee: string): Found | undefined {
  const theirs = database.get<Found>("SELECT set_id, station FROM kept_set WHERE trainee = ? LIMIT 1", trainee);
  if (theirs !== undefined) return theirs;
  const named = database.get<{ set_id: string }>("SELECT set_id FROM change_log WHERE trainee = ? LIMIT 1", trainee);
  return named === undefined ? undefined : { set_id: named.set_id, station: null };
}

interface Old {
  readonly set_id: string;
  readonly station: string;
  readonly started_at_ms: number;
  readonly set_seq: number;
  readonly ended_at: string;
  readonly synced: number | null;
}

function nextOld(database: Database, ended_before: string, after: ErasurePlace | null): Old | undefined {
  return database.get<Old>(
    `SELECT kept_set.set_id, station, started_at_ms, kept_set.set_seq, ended_at,
       CASE WHEN json_valid(message) THEN message ->> '$.clock_synced' END AS synced
     FROM kept_set INDEXED BY kept_set_by_start JOIN change_log ON change_log.set_seq = kept_set.set_seq
     WHERE (started_at_ms, kept_set.set_seq) > (?, ?) AND started_at_ms < ?
     ORDER BY started_at_ms, kept_set.set_seq LIMIT 1`,
    after?.started_at_ms ?? -1,
    after?.set_seq ?? -1,
    Date.parse(ended_before),
  );
}

/** Every revision goes, of whomever: the set is theirs. Its number is not used again, and the erasure gets one of its own. */
function eraseSet(
  database: Database,
  store_id: string,
  { set_id, station }: { readonly set_id: string; readonly station: string },
  { envelope, topic }: ErasureNotice,
): { message: string; outbox: number } {
  const row = database.get<{ first_set_seq: number; revision: number }>(
    `SELECT first_set_seq, (SELECT max(revision) FROM change_log WHERE change_log.set_id = ?1) AS revision
     FROM kept_set WHERE set_id = ?1`,
    set_id,
  );
  if (row === undefined) throw new Error("a set to be erased is not there");
  database.run("DELETE FROM set_log WHERE first_set_seq = ?", row.first_set_seq);
  database.run("DELETE FROM kept_set WHERE set_id = ?", set_id);
  database.run("DELETE FROM change_log WHERE set_id = ?", set_id);
  database.run("DELETE FROM running_part WHERE set_id = ?", set_id);
  database.run("DELETE FROM outbox WHERE set_id = ?", set_id);
  const outbox = changedRows(database);
  const set_seq = database.run(
    "INSERT INTO change_log (set_id, revision, message, erased) VALUES (?, ?, '', 1)",
    set_id,
    row.revision + 1,
  );
  const message = JSON.stringify({ ...envelope, set_id, store: store_id, set_seq, erased: true });
  database.run("UPDATE change_log SET message = ? WHERE set_seq = ?", message, set_seq);
  putInOutbox(database, { station, set_id, topic: topic.replace("/+/", `/${station}/`), payload: message });
  return { message, outbox };
}

/** The set stays the other's, with the revisions that do not name the erased one. */
function eraseRevisions(database: Database, trainee: string, set_id: string): { outbox: number; readable: boolean } {
  database.run("DELETE FROM change_log WHERE set_id = ? AND trainee = ?", set_id, trainee);
  // Codes have no character that JSON would write otherwise.
  database.run("DELETE FROM outbox WHERE set_id = ? AND instr(payload, ?) > 0", set_id, `"trainee":"${trainee}"`);
  const outbox = changedRows(database);
  const kept = database.get<{ first_set_seq: number; trainee: string | null; log: Uint8Array }>(
    `SELECT first_set_seq, trainee, log FROM kept_set JOIN set_log USING (first_set_seq) WHERE set_id = ?`,
    set_id,
  );
  return { outbox, readable: kept === undefined || eraseFromLog(database, kept, trainee) !== "unreadable" };
}

function dropClaim(database: Database, trainee: string): boolean {
  const row = database.get<{ set_seq: number }>(
    "SELECT set_seq FROM change_log WHERE performed_by = ? LIMIT 1",
    trainee,
  );
  if (row === undefined) return false;
  database.run("UPDATE change_log SET performed_by = NULL WHERE set_seq = ?", row.set_seq);
  return true;
}

/** By the last change. */
export const changedRows = (database: Database): number => database.get<{ n: number }>("SELECT changes() AS n")?.n ?? 0;
