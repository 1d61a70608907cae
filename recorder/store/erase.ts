/**
 * One trainee, or what is too old, out of the store: an erasure's row, what is around the sets, and its end. The row names the
 * trainee until the end, so that an erasure which was broken off is known at the next start; then only counts stay.
 */
import type { EndedErasure, ErasedAround, Erasure, ErasureWish } from "../care-ports.ts";
import type { Database } from "./database.ts";
import { changedRows, nextOf } from "./erase-sets.ts";
import { decodeInputLog } from "./input-log.ts";

const COLUMNS = "erasure, trainee, ended_before, asked_at, performed_by";
const NOTHING: ErasedAround = { plans: 0, tags: [], claims: 0, running: 0 };

export function beginErasure(database: Database, wish: ErasureWish): { erasure: Erasure; around: ErasedAround } {
  const { trainee, ended_before, asked_at, performed_by } = wish;
  return database.transaction(() => {
    const around = trainee === null ? NOTHING : eraseAround(database, trainee);
    const open = erasures(database).open.find((one) => one.trainee === trainee && one.ended_before === ended_before);
    if (open !== undefined) return { erasure: open, around };
    const erasure = database.run(
      "INSERT INTO erasure (trainee, ended_before, asked_at, performed_by) VALUES (?, ?, ?, ?)",
      trainee,
      ended_before,
      asked_at,
      performed_by,
    );
    return { erasure: { erasure, ...wish }, around };
  });
}

export function erasures(database: Database): { open: Erasure[]; any: boolean } {
  const open = database
    .all<Erasure>(`SELECT ${COLUMNS} FROM erasure WHERE done_at IS NULL ORDER BY erasure`)
    .map((row) => ({ ...row }));
  return { open, any: database.get("SELECT 1 FROM erasure LIMIT 1") !== undefined };
}

export function erasureOf(database: Database, number: number): Erasure {
  const row = database.get<Erasure>(`SELECT ${COLUMNS} FROM erasure WHERE erasure = ? AND done_at IS NULL`, number);
  if (row === undefined) throw new Error(`there is no erasure ${number} that is not done`);
  return row;
}

/**
 * Once more what is around the sets: a tag or a plan may have come while the sets went. null: so did a set. Whoever asked for
 * their own erasure is not named as who asked either.
 */
export function endErasure(database: Database, number: number, done_at: string): EndedErasure | null {
  return database.transaction(() => {
    const { trainee } = erasureOf(database, number);
    if (trainee !== null && nextOf(database, trainee) !== undefined) return null;
    const around = trainee === null ? NOTHING : eraseAround(database, trainee);
    database.run("UPDATE erasure SET trainee = NULL, done_at = ? WHERE erasure = ?", done_at, number);
    if (trainee === null) return { ...around, claims_kept: 0 };
    database.run("UPDATE erasure SET performed_by = NULL WHERE performed_by = ?", trainee);
    return { ...around, claims_kept: claimsKept(database, trainee) };
  });
}

/** The trust in other people's forces hangs on these: who hung a load is not forgotten. */
function claimsKept(database: Database, trainee: string): number {
  const row = database.get<{ kept: number }>(
    `SELECT (SELECT count(*) FROM calibration WHERE json_valid(record) AND record ->> '$.performed_by' = ?1)
       + (SELECT count(*) FROM calibration_check WHERE json_valid(record) AND record ->> '$.performed_by' = ?1)
       + (SELECT count(*) FROM calibration_in_force WHERE performed_by = ?1)
       + (SELECT count(*) FROM zero_history WHERE performed_by = ?1) AS kept`,
    trainee,
  );
  return row?.kept ?? 0;
}

function eraseAround(database: Database, trainee: string): ErasedAround {
  const counted = (text: string, ...values: string[]): number => {
    database.run(text, ...values);
    return changedRows(database);
  };
  const plans = counted("DELETE FROM plan WHERE trainee = ?", trainee);
  const tags = database
    .all<{ tag: string }>("SELECT tag FROM tag WHERE trainee = ?1 OR tag = ?1 ORDER BY tag", trainee)
    .map(({ tag }) => tag);
  database.run("DELETE FROM tag WHERE trainee = ?1 OR tag = ?1", trainee);
  // Codes have no character that JSON would write otherwise.
  const claims =
    counted("UPDATE tag SET performed_by = NULL WHERE performed_by = ?", trainee) +
    counted(
      "UPDATE plan SET performed_by = NULL, plan = replace(plan, ?2, ?3) WHERE performed_by = ?1 OR instr(plan, ?2) > 0",
      trainee,
      `"performed_by":"${trainee}"`,
      '"performed_by":null',
    );
  return { plans, tags, claims, running: eraseRunning(database, trainee) };
}

/** Leftovers of sets that could not be taken up at a start: while a set of theirs runs nobody gets here. */
function eraseRunning(database: Database, trainee: string): number {
  const firsts = database.all<{ set_id: string; log: Uint8Array }>(
    "SELECT set_id, log FROM running_part AS one WHERE part = (SELECT min(part) FROM running_part WHERE set_id = one.set_id)",
  );
  const theirs = firsts.filter(({ log }) => {
    const decoded = decodeInputLog(log);
    return decoded.ok && (decoded.log.arm as { trainee?: unknown } | null)?.trainee === trainee;
  });
  for (const { set_id } of theirs) database.run("DELETE FROM running_part WHERE set_id = ?", set_id);
  return theirs.length;
}

/** Pages given back at once: some milliseconds. */
const PAGES = 200;

/** secure_delete has made zeros of what was deleted; what is left of it is in the write-ahead log. */
export function sweep(database: Database): boolean {
  database.exec(`PRAGMA incremental_vacuum(${PAGES})`);
  const more = Number(database.pragma("freelist_count")) > 0;
  if (!more) database.exec("PRAGMA wal_checkpoint(TRUNCATE)");
  return more;
}

/** So many of the newest sets vouch for a date: one set of a day when the clock had jumped must not. */
const VOUCHING = 20;

export function newestSure(database: Database): string | null {
  const row = database.get<{ ended_at: string | null; sets: number }>(
    `SELECT min(ended_at) AS ended_at, count(*) AS sets FROM
       (SELECT ended_at FROM kept_set ORDER BY first_set_seq DESC LIMIT ${VOUCHING})`,
  );
  return row === undefined || row.sets < VOUCHING ? null : row.ended_at;
}
