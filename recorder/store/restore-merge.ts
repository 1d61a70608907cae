/**
 * What a restored store takes over from this box as it is now. A backup knows the sets of its day, and the scales, latches and
 * zeros of its day too; those are about the machines, and the machines did not go back in time.
 */

import { writeCalibrationFile, writeCheckFile, writeInForceFile } from "./calibration-files.ts";
import { calibrationInForce, calibrations, keepRecord, putInForce, timesInForce } from "./calibrations.ts";
import { checks, keepCheck } from "./checks.ts";
import type { Database } from "./database.ts";
import { readCalibrationFiles } from "./read-calibration-files.ts";

/** Where the machines stand, as the store in use has it. */
export interface Standing {
  readonly latches: readonly Row[];
  readonly zeros: readonly Row[];
  readonly moved: readonly Row[];
  readonly retained: readonly Row[];
  /** Erasures that are not done yet. */
  readonly erasures: readonly Row[];
}
type Row = Readonly<Record<string, string | number | null>>;

/** Throws what SQLite throws, where the store is damaged or of an older version. */
export function standingOf(present: Database): Standing {
  return {
    latches: present.all<Row>("SELECT station, since, detail FROM inspect_latch"),
    zeros: present.all<Row>("SELECT station, calibration_id, shift_counts, asked_shift_counts FROM zero_state"),
    moved: present.all<Row>("SELECT station, calibration_id, since, detail FROM zero_moved"),
    retained: present.all<Row>("SELECT topic FROM retained_topic"),
    erasures: present.all<Row>(
      "SELECT trainee, ended_before, asked_at, performed_by, sets FROM erasure WHERE done_at IS NULL",
    ),
  };
}

/** The same again changes nothing. `standing` null: no store is in use, or none that can be read. */
export function takeOver(restored: Database, store_path: string, standing: Standing | null): void {
  restored.transaction(() => {
    takeCalibrations(restored, store_path);
    if (standing !== null) takeStanding(restored, standing);
  });
}

/** What the restored store knows of calibration, beside the store: it is what another start without a store would go by. */
export function writeCalibrationFiles(restored: Database, store_path: string): void {
  const stations = restored.all<{ station: string }>("SELECT DISTINCT station FROM calibration");
  for (const { station } of stations) {
    for (const record of calibrations(restored, station)) writeCalibrationFile(store_path, record);
    for (const check of checks(restored, station)) writeCheckFile(store_path, check);
    writeInForceFile(store_path, station, timesInForce(restored, station)[0] ?? null);
  }
}

function takeCalibrations(restored: Database, store_path: string): void {
  const files = readCalibrationFiles(store_path);
  for (const record of files.records) keepRecord(restored, record);
  for (const check of files.checks) keepCheck(restored, check);
  for (const use of files.in_force) {
    const then = timesInForce(restored, use.station)[0];
    if (then === undefined || Date.parse(use.at) > Date.parse(then.at)) putInForce(restored, use);
  }
}

function takeStanding(restored: Database, { latches, zeros, moved, retained, erasures }: Standing): void {
  restored.run("DELETE FROM inspect_latch");
  insert(restored, "inspect_latch", latches);
  const stands = ({ station, calibration_id }: Row): boolean =>
    calibrationInForce(restored, String(station))?.calibration_id === calibration_id;
  insert(restored, "zero_state", zeros.filter(stands));
  insert(restored, "zero_moved", moved.filter(stands));
  insert(restored, "retained_topic", retained);
  const known = restored.all<Row>("SELECT asked_at FROM erasure WHERE done_at IS NULL").map(({ asked_at }) => asked_at);
  insert(
    restored,
    "erasure",
    erasures.filter(({ asked_at }) => !known.includes(asked_at ?? null)),
  );
}

function insert(database: Database, table: string, rows: readonly Row[]): void {
  for (const row of rows) {
    const columns = Object.keys(row);
    const places = columns.map(() => "?").join(", ");
    database.run(`INSERT OR REPLACE INTO ${table} (${columns.join(", ")}) VALUES (${places})`, ...Object.values(row));
  }
}
