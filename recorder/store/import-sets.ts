/**
 * Sets of elsewhere, into this store. Each gets numbers of this store's change log, a revision at a time, and a place among
 * the sets that are here: `kept_set` is in the order in which sets were first kept, and theirs was long ago.
 *
 * - A set that follows another of the file's goes right behind it where there is room, so that an import which was broken
 *   off goes on where it ended.
 * - One that follows the newest set here is the newest from now on: its key is its first number, as of any set that is kept.
 *   So a box that takes over another's file again and again has their order.
 * - Any other goes below all that are here, with room for the rest of the file behind it. Keys below 1 are free for that:
 *   the change log counts from 1.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { RevisionToImport, SetToImport } from "../care-ports.ts";
import type { Database } from "./database.ts";
import { keepRow } from "./keeping.ts";
import { readable } from "./pages.ts";

export type Fate =
  | { readonly is: "imported" | "known" | "differs" | "later"; readonly place: number }
  | { readonly is: "erased" };

/**
 * Within a transaction. `after`: the place of the file's set before it; null: it has none here. `left`: sets of the file
 * from this one on.
 */
export function importSet(
  database: Database,
  store_id: string,
  set: SetToImport,
  after: number | null,
  left: number,
): Fate {
  const { set_id } = set;
  const here = database.get<{ first_set_seq: number; message: string }>(
    `SELECT first_set_seq, message FROM kept_set JOIN change_log ON change_log.set_seq = kept_set.set_seq
     WHERE kept_set.set_id = ?`,
    set_id,
  );
  if (here !== undefined) return { is: against(here, set), place: here.first_set_seq };
  // Its number and its erasure are still in the change log: whoever was promised that it is gone must not find it again.
  const erased = database.get("SELECT 1 FROM change_log WHERE set_id = ? LIMIT 1", set_id);
  if (erased !== undefined) return { is: "erased" };
  let message: SetMessage | null = null;
  let first_number = 0;
  for (const revision of set.revisions) {
    message = writeRevision(database, store_id, revision);
    first_number ||= message.set_seq;
  }
  if (message === null) throw new Error("a set without a revision was to be imported");
  const place = placeFor(database, after, left) ?? first_number;
  keepRow(database, message, set.setup, place);
  database.run("INSERT INTO set_log (first_set_seq, log) VALUES (?, ?)", place, set.log);
  // What was checkpointed of it, had it been running here, is in it.
  database.run("DELETE FROM running_part WHERE set_id = ?", set_id);
  return { is: "imported", place };
}

function writeRevision(database: Database, store_id: string, revision: RevisionToImport): SetMessage {
  const set = JSON.parse(revision.message) as SetMessage;
  const set_seq = database.run(
    "INSERT INTO change_log (set_id, revision, message, trainee, performed_by, revised_at) VALUES (?, ?, '', ?, ?, ?)",
    ...[set.set_id, set.revision, set.trainee, revision.performed_by, revision.revised_at],
  );
  // The keys are in the message already, so a spread leaves the published order of fields as it is.
  const message: SetMessage = { ...set, store: store_id, set_seq };
  database.run("UPDATE change_log SET message = ? WHERE set_seq = ?", JSON.stringify(message), set_seq);
  return message;
}

/** null: at the end, under its own number. */
function placeFor(database: Database, after: number | null, left: number): number | null {
  const ends = database.get<{ first: number | null; last: number | null }>(
    "SELECT (SELECT min(first_set_seq) FROM kept_set) AS first, (SELECT max(first_set_seq) FROM kept_set) AS last",
  );
  if (after !== null && after < 0 && isFree(database, after + 1)) return after + 1;
  if (after !== null && after === ends?.last) return null;
  return Math.min(ends?.first ?? 1, 1) - left;
}

const isFree = (database: Database, place: number): boolean =>
  database.get("SELECT 1 FROM kept_set WHERE first_set_seq = ?", place) === undefined;

function against(here: { readonly message: string }, set: SetToImport): "known" | "differs" | "later" {
  const kept = readable<SetMessage>(here.message);
  const theirs = JSON.parse(set.revisions.at(-1)?.message ?? "null") as SetMessage;
  if (kept === null) return "differs";
  if (kept.revision !== theirs.revision) return theirs.revision > kept.revision ? "later" : "known";
  return JSON.stringify({ ...theirs, store: kept.store, set_seq: kept.set_seq }) === JSON.stringify(kept)
    ? "known"
    : "differs";
}
