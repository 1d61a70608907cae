/**
 * Where each station's zero stands, and how it came there. Tracking saves one every ten minutes at the most, so the history
 * holds the better half of a year of a zero that never rests, and years of an ordinary one.
 */
import type { FoundZero, KeptZero, ToInspect } from "../../calibration/zero/zero-shift.ts";
import type { SavedZero, ZeroMoved } from "../ports.ts";
import type { Database } from "./database.ts";

/** Rows of history of one station. Beyond it the oldest tracked ones go first, so that what somebody asked for stays longest. */
export const ZEROS_KEPT = 20_000;

export function saveZero(database: Database, station: string, zero: SavedZero, kept = ZEROS_KEPT): void {
  const { calibration_id, shift_counts, asked_shift_counts, at, cause, performed_by } = zero;
  database.transaction(() => {
    database.run(
      `INSERT INTO zero_state (station, calibration_id, shift_counts, asked_shift_counts) VALUES (?, ?, ?, ?)
       ON CONFLICT (station) DO UPDATE SET calibration_id = excluded.calibration_id,
         shift_counts = excluded.shift_counts, asked_shift_counts = excluded.asked_shift_counts`,
      ...[station, calibration_id, shift_counts, asked_shift_counts],
    );
    database.run(
      `INSERT INTO zero_history (station, at, calibration_id, shift_counts, asked_shift_counts, cause, performed_by)
       VALUES (?, ?, ?, ?, ?, ?, ?)`,
      ...[station, at, calibration_id, shift_counts, asked_shift_counts, cause, performed_by],
    );
    const rows = rowsOf(database, station);
    if (rows > kept) thin(database, station, rows - kept);
  });
}

function rowsOf(database: Database, station: string): number {
  return (
    database.get<{ rows: number }>("SELECT count(*) AS rows FROM zero_history WHERE station = ?", station)?.rows ?? 0
  );
}

function thin(database: Database, station: string, rows: number): void {
  database.run(
    `DELETE FROM zero_history WHERE entry IN
       (SELECT entry FROM zero_history WHERE station = ? ORDER BY cause <> 'tracked', entry LIMIT ?)`,
    station,
    rows,
  );
}

export function standingZero(database: Database, station: string): FoundZero | null {
  const row = database.get<KeptZero>(
    "SELECT calibration_id, shift_counts, asked_shift_counts FROM zero_state WHERE station = ?",
    station,
  );
  if (row === undefined) return null;
  const moved = database.get<ToInspect>(
    "SELECT since, detail FROM zero_moved WHERE station = ? AND calibration_id = ?",
    ...[station, row.calibration_id],
  );
  return moved === undefined ? { ...row } : { ...row, moved: { ...moved } };
}

/** null: there is nothing to look into any more. */
export function saveZeroMoved(database: Database, station: string, moved: ZeroMoved | null): void {
  if (moved === null) {
    database.run("DELETE FROM zero_moved WHERE station = ?", station);
    return;
  }
  database.run(
    `INSERT INTO zero_moved (station, calibration_id, since, detail) VALUES (?, ?, ?, ?)
     ON CONFLICT (station) DO UPDATE SET calibration_id = excluded.calibration_id,
       since = excluded.since, detail = excluded.detail`,
    ...[station, moved.calibration_id, moved.since, moved.detail],
  );
}

/** The newest `limit`, oldest first. */
export function zeros(database: Database, station: string, limit: number): SavedZero[] {
  return database
    .all<SavedZero>(
      `SELECT at, calibration_id, shift_counts, asked_shift_counts, cause, performed_by
       FROM zero_history WHERE station = ? ORDER BY entry DESC LIMIT ?`,
      station,
      limit,
    )
    .map((row) => ({ ...row }))
    .reverse();
}
