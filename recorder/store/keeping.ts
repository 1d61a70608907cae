/**
 * Keeping a set, and revising one that is kept: its number, its message, its log and the outbox row in one transaction, so
 * that what is announced is kept and what is kept will be announced.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Revising, SetToKeep } from "../ports.ts";
import type { Database } from "./database.ts";
import { StoreFailure } from "./failure.ts";
import { encodeInputLog } from "./input-log.ts";

import { putInOutbox } from "./outbox.ts";
import { readable } from "./pages.ts";
import { forget } from "./running-parts.ts";

/**
 * Returns the message as kept, `set_seq` and `store` filled in. Keeping the same `set_id` and `revision` again changes
 * nothing and returns the first, so a request whose answer was lost can be asked again. The log of a set is what
 * happened: a later revision brings another message, never another log.
 */
export function keep(database: Database, store_id: string, set: SetToKeep): SetMessage {
  const { set_id, revision } = set.message;
  const log = encodeInputLog(set.log);
  return database.transaction(() => {
    const kept = database.get<{ message: string }>(
      "SELECT message FROM change_log WHERE set_id = ? AND revision = ?",
      set_id,
      revision,
    );
    if (kept !== undefined) return JSON.parse(kept.message) as SetMessage;
    const message = write(database, { ...set.message, store: store_id }, set, BY_THE_RECORDER);
    if (message.set_seq === firstSeqOf(database, set_id)) {
      database.run("INSERT INTO set_log (first_set_seq, log) VALUES (?, ?)", message.set_seq, log);
    }
    forget(database, set_id);
    return message;
  });
}

/**
 * Lays changes over the highest revision of a set; the log is not touched. Only fields the set has can be changed, and
 * they keep their place in it. Where nothing would differ, the highest revision is the answer and nothing is written.
 * null: no such set. Throws where its text cannot be read any more.
 */
export function revise(database: Database, store_id: string, revising: Revising): SetMessage | null {
  const { set_id, topic, performed_by, revised_at } = revising;
  return database.transaction(() => {
    const known = database.get<{ setup: string; message: string }>(
      `SELECT kept_set.setup, change_log.message FROM kept_set
       JOIN change_log ON change_log.set_seq = kept_set.set_seq WHERE kept_set.set_id = ?`,
      set_id,
    );
    if (known === undefined) return null;
    const highest = readable<SetMessage>(known.message);
    if (highest === null) throw new StoreFailure("corrupt", `the set ${set_id} cannot be read: its text is damaged`);
    const { station, revision } = highest;
    const changed = {
      ...highest,
      ...revising.changes,
      set_id,
      store: store_id,
      station,
      revision,
      set_seq: highest.set_seq,
    };
    if (JSON.stringify(changed) === JSON.stringify(highest)) return highest;
    const { setup } = known;
    return write(database, { ...changed, revision: revision + 1 }, { setup, topic }, { performed_by, revised_at });
  });
}

interface RevisedBy {
  readonly performed_by: string | null;
  readonly revised_at: string | null;
}
/** Who asked for the set is in its log. */
const BY_THE_RECORDER: RevisedBy = { performed_by: null, revised_at: null };

/** One row of the change log, the set's own row, and the announcement; the number filled in. Within a transaction. */
function write(
  database: Database,
  set: SetMessage,
  { setup, topic }: Pick<SetToKeep, "setup" | "topic">,
  { performed_by, revised_at }: RevisedBy,
): SetMessage {
  const { set_id, revision, station, trainee } = set;
  const set_seq = database.run(
    "INSERT INTO change_log (set_id, revision, message, trainee, performed_by, revised_at) VALUES (?, ?, '', ?, ?, ?)",
    set_id,
    revision,
    trainee,
    performed_by,
    revised_at,
  );
  // The key is in the message already, so a spread leaves the published order of fields as it is.
  const message: SetMessage = { ...set, set_seq };
  const payload = JSON.stringify(message);
  database.run("UPDATE change_log SET message = ? WHERE set_seq = ?", payload, set_seq);
  keepRow(database, message, setup);
  putInOutbox(database, { station, set_id, topic, payload });
  return message;
}

const firstSeqOf = (database: Database, set_id: string): number | undefined =>
  database.get<{ first_set_seq: number }>("SELECT first_set_seq FROM kept_set WHERE set_id = ?", set_id)?.first_set_seq;

/** `first` is the key of a set that is not here yet; of one that is, the row keeps its own. */
export function keepRow(database: Database, message: SetMessage, setup: string, first = message.set_seq): void {
  const known = database.get<{ first_set_seq: number; revision: number }>(
    "SELECT first_set_seq, revision FROM kept_set WHERE set_id = ?",
    message.set_id,
  );
  if (known !== undefined && known.revision > message.revision) return;
  const first_set_seq = known?.first_set_seq ?? first;
  database.run(
    `INSERT OR REPLACE INTO kept_set (first_set_seq, set_id, set_seq, revision, station, trainee, exercise, side, style,
       intent, setup, resting_subtracted, warm_up, void, cut_short, started_at_ms, ended_at, best_force_N,
       exercise_label, fatigue_threshold, reached_threshold, impulse_N_s, duration_s, mean_force_N, mean_effort_force_N,
       force_loss, expanded_uncertainty_N, calibration_id, zero_shift_N, best_unconfirmed, simulated, pain,
       ended_because)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    first_set_seq,
    message.set_id,
    message.set_seq,
    message.revision,
    message.station,
    message.trainee,
    message.exercise,
    message.side,
    message.style,
    message.intent,
    setup,
    Number(message.resting_subtracted),
    Number(message.warm_up),
    Number(message.void),
    Number(message.cut_short),
    Date.parse(message.started_at),
    message.at,
    message.best_force_N,
    message.exercise_label,
    message.fatigue_threshold,
    Number(message.reached_threshold),
    message.impulse_N_s,
    message.duration_s,
    message.mean_force_N,
    message.mean_effort_force_N,
    message.force_loss,
    message.expanded_uncertainty_N,
    message.calibration_id,
    message.zero_shift_N,
    Number(message.quality.best_unconfirmed),
    Number(message.simulated),
    message.pain,
    message.ended_because,
  );
}
