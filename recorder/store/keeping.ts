/**
 * Keeping a set: its number, its log, its message and the outbox row in one transaction, so that what is announced is
 * kept and what is kept will be announced.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { SetToKeep } from "../ports.ts";
import type { Database } from "./database.ts";
import { encodeInputLog } from "./input-log.ts";
import { putInOutbox } from "./outbox.ts";
import { forget } from "./running-parts.ts";

/**
 * Returns the message as kept, `set_seq` and `store` filled in. Keeping the same `set_id` and `revision` again changes
 * nothing and returns the first, so a request whose answer was lost can be asked again. The log of a set is what
 * happened: a later revision brings another message, never another log.
 */
export function keep(database: Database, store_id: string, set: SetToKeep): SetMessage {
  const { set_id, revision } = set.message;
  const log = encodeInputLog(set.log);
  const json = database.transaction(() => {
    const kept = database.get<{ message: string }>(
      "SELECT message FROM change_log WHERE set_id = ? AND revision = ?",
      set_id,
      revision,
    );
    if (kept !== undefined) return kept.message;
    const set_seq = database.run(
      "INSERT INTO change_log (set_id, revision, message) VALUES (?, ?, '')",
      set_id,
      revision,
    );
    // Both keys are in the message already, so a spread leaves the published order of fields as it is.
    const message: SetMessage = { ...set.message, store: store_id, set_seq };
    const payload = JSON.stringify(message);
    database.run("UPDATE change_log SET message = ? WHERE set_seq = ?", payload, set_seq);
    keepRow(database, message, set.setup, log);
    putInOutbox(database, { station: message.station, set_id, topic: set.topic, payload });
    forget(database, set_id);
    return payload;
  });
  return JSON.parse(json) as SetMessage;
}

function keepRow(database: Database, message: SetMessage, setup: string, log: Uint8Array): void {
  const known = database.get<{ first_set_seq: number; revision: number }>(
    "SELECT first_set_seq, revision FROM kept_set WHERE set_id = ?",
    message.set_id,
  );
  if (known !== undefined && known.revision > message.revision) return;
  const first_set_seq = known?.first_set_seq ?? message.set_seq;
  database.run(
    `INSERT OR REPLACE INTO kept_set (first_set_seq, set_id, set_seq, revision, station, trainee, exercise, side, style,
       intent, setup, resting_subtracted, warm_up, void, cut_short, started_at_ms, ended_at, best_force_N)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
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
  );
  if (known === undefined) database.run("INSERT INTO set_log (first_set_seq, log) VALUES (?, ?)", first_set_seq, log);
}
