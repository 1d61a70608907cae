/** What still has to be announced. A row goes only when the broker said yes; the order is kept for each station by itself. */
import type { OutboxRow } from "../ports.ts";
import type { Database } from "./database.ts";

/** Within the caller's transaction, so that a message is in the outbox exactly if what it says is kept. */
export function putInOutbox(database: Database, message: Omit<OutboxRow, "row"> & { readonly set_id: string }): void {
  database.run(
    "INSERT INTO outbox (station, set_id, topic, payload) VALUES (?, ?, ?, ?)",
    message.station,
    message.set_id,
    message.topic,
    message.payload,
  );
}

/** Oldest first, at most `limit` of each station: a station whose rows are refused takes no room from the others. */
export function outbox(database: Database, limit: number): OutboxRow[] {
  return database
    .all<{ station: string }>("SELECT DISTINCT station FROM outbox")
    .flatMap(({ station }) =>
      database.all<OutboxRow>(
        `SELECT outbox_row AS "row", station, topic, payload FROM outbox WHERE station = ? ORDER BY outbox_row LIMIT ?`,
        station,
        limit,
      ),
    )
    .map((row) => ({ ...row }))
    .sort((one, other) => one.row - other.row);
}

export function sent(database: Database, row: number): void {
  database.run("DELETE FROM outbox WHERE outbox_row = ?", row);
}

export function outboxSize(database: Database): number {
  return database.get<{ size: number }>("SELECT count(*) AS size FROM outbox")?.size ?? 0;
}
