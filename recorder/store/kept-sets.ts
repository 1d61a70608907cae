/**
 * Asking for kept sets. A message whose text no longer reads as JSON, which the check at the start cannot see, is left
 * out of lists, so that one rotten set does not keep the rest from a trainer; asked for by itself it is a `corrupt` failure.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { InputLog, SetsPage, SetsQuery } from "../ports.ts";
import type { Database, SqlValue } from "./database.ts";
import { withErased } from "./erased-sets.ts";
import { StoreFailure } from "./failure.ts";
import { decodeInputLog } from "./input-log.ts";
import { PAGE_BYTES, readable } from "./pages.ts";

/** The most sets in one page, whatever is asked: their text must fit in the memory of a small box. */
const PAGE_SETS = 10_000;

interface MessageRow {
  readonly message: string;
}

/**
 * `from` and `to` bound `started_at`, the first included, the second not; `from_set_seq` is included, `before_set_seq` is not.
 * A page may be shorter than `limit`; `more` tells whether others fit: those after it where there is a `from_set_seq`, and
 * where there is none, the newest are in it and those before it are meant.
 * `first_set_seq` and `last_set_seq` are the whole change log's, whatever was asked for, so that a reader sees what it lacks.
 */
export function sets(database: Database, store_id: string, query: SetsQuery): SetsPage {
  const terms: string[] = [];
  const values: SqlValue[] = [];
  const where = (term: string, value: SqlValue | undefined): void => {
    if (value === undefined) return;
    terms.push(term);
    values.push(value);
  };
  where("station = ?", query.station);
  where("trainee = ?", query.trainee);
  where("side = ?", query.side);
  where("style = ?", query.style);
  where("exercise = ?", query.exercise);
  where("set_seq >= ?", query.from_set_seq);
  where("set_seq < ?", query.before_set_seq);
  where("started_at_ms >= ?", millisOf(query.from));
  where("started_at_ms < ?", millisOf(query.to));
  const limit = Math.min(query.limit ?? PAGE_SETS, PAGE_SETS);
  // One over, to know whether there is one.
  values.push(limit + 1);
  const rows = database.all<{ set_seq: number }>(
    `SELECT set_seq FROM kept_set ${indexFor(query)} ${terms.length > 0 ? `WHERE ${terms.join(" AND ")}` : ""}
     ORDER BY set_seq ${query.from_set_seq === undefined ? "DESC" : "ASC"} LIMIT ?`,
    ...values,
  );
  const fits = fitting(database, rows.slice(0, limit));
  const all = fits
    .flatMap((row) => readable<SetMessage>(row.message) ?? [])
    .sort((one, other) => one.set_seq - other.set_seq);
  const { found, erased, cut } = withErased(database, query.from_set_seq, all, fits.length < rows.length);
  const ends = database.get<{ first: number | null; last: number | null }>(
    "SELECT (SELECT min(set_seq) FROM change_log) AS first, (SELECT max(set_seq) FROM change_log) AS last",
  );
  return {
    store: store_id,
    first_set_seq: ends?.first ?? null,
    last_set_seq: ends?.last ?? null,
    more: cut || fits.length < rows.length,
    sets: found,
    ...erased,
  };
}

/** Up to so long a stretch of time is looked through whole. A busy room keeps some thousand sets in it. */
const STRETCH_MS = 40 * 86_400_000;

/**
 * Left alone, SQLite would walk a whole station, reading each row's page. A stretch of time is the shorter way where it has
 * both ends near each other. What else is not of one trainee is read along the numbers in an index that answers from itself:
 * a long record is then walked once, however many pages it is asked for in [half a million sets: 45 ms, measured].
 */
function indexFor({ from, to, trainee, station, side, style, exercise }: SetsQuery): string {
  if (from !== undefined && to !== undefined && Date.parse(to) - Date.parse(from) <= STRETCH_MS) {
    return "INDEXED BY kept_set_by_start";
  }
  if (trainee !== undefined) {
    return station === undefined ? "INDEXED BY kept_set_by_trainee_seq" : "INDEXED BY kept_set_by_trainee_station";
  }
  if (exercise !== undefined) return "INDEXED BY kept_set_by_exercise";
  const narrowed = [from, to, side, style].some((given) => given !== undefined);
  return narrowed ? "INDEXED BY kept_set_by_seq" : "";
}

/** The sets from the first on that fit into a page. Read one by one: a thousand of them are ten times what a page takes. */
function fitting(database: Database, rows: readonly { readonly set_seq: number }[]): readonly MessageRow[] {
  const page: MessageRow[] = [];
  let bytes = 0;
  for (const { set_seq } of rows) {
    const row = database.get<MessageRow>("SELECT message FROM change_log WHERE set_seq = ?", set_seq);
    // A number without a text is as a text that is not readable.
    const { message } = row ?? { message: "" };
    bytes += Buffer.byteLength(message);
    if (page.length > 0 && bytes > PAGE_BYTES) break;
    page.push({ message });
  }
  return page;
}

/** The highest revision and the inputs it came from; null: never kept. Throws a StoreFailure if either cannot be read. */
export function set(database: Database, set_id: string): { message: SetMessage; log: InputLog } | null {
  const row = database.get<MessageRow & { log: Uint8Array }>(
    `SELECT change_log.message, set_log.log FROM kept_set
     JOIN change_log ON change_log.set_seq = kept_set.set_seq
     JOIN set_log ON set_log.first_set_seq = kept_set.first_set_seq
     WHERE kept_set.set_id = ?`,
    set_id,
  );
  if (row === undefined) return null;
  const message = readable<SetMessage>(row.message);
  if (message === null) throw new StoreFailure("corrupt", `the set ${set_id} cannot be read: its text is damaged`);
  const decoded = decodeInputLog(row.log);
  if (!decoded.ok) throw new StoreFailure("corrupt", `the set ${set_id} cannot be read: ${decoded.message}`);
  return { message, log: decoded.log };
}

/** The set of this station that was kept last, in its highest revision. */
export function latest(database: Database, station: string): SetMessage | null {
  return newestOf(database, "station = ?", station);
}

/** The newest set for which `term` holds, by the order in which sets were first kept. */
export function newestOf(database: Database, term: string, ...values: SqlValue[]): SetMessage | null {
  const row = database.get<MessageRow>(
    `SELECT message FROM change_log WHERE set_seq =
       (SELECT set_seq FROM kept_set WHERE ${term} ORDER BY first_set_seq DESC LIMIT 1)`,
    ...values,
  );
  return row === undefined ? null : readable<SetMessage>(row.message);
}

function millisOf(instant: string | undefined): number | undefined {
  return instant === undefined ? undefined : Date.parse(instant);
}
