/**
 * Calibration records and which is in force at each station. Both are append-only: the record in force is the last one
 * put in force, and what was in force before stays written.
 *
 * Where `alongside` throws, nothing is kept.
 */
import { isDeepStrictEqual } from "node:util";
import type { CalibrationRecord } from "../../calibration/record.ts";
import type { CalibrationToUse, Imported, PutInForce } from "../ports.ts";
import type { Database } from "./database.ts";

type Alongside = () => void;

/** Keeps a record and puts it in force. The same record again, while in force, changes nothing. */
export function saveCalibration(database: Database, record: CalibrationRecord, alongside: Alongside): void {
  database.transaction(() => {
    keepRecord(database, record);
    putInForce(database, record);
    alongside();
  });
}

export function hasCalibrations(database: Database): boolean {
  return database.get<{ some: number }>("SELECT EXISTS (SELECT 1 FROM calibration) AS some")?.some === 1;
}

/** `alongside` runs only where something is written. */
export function useCalibration(
  database: Database,
  use: CalibrationToUse,
  alongside: (record: CalibrationRecord) => void,
): CalibrationRecord | null {
  const record = calibration(database, use.calibration_id);
  if (record === null || record.station !== use.station) return null;
  if (isInForce(database, use)) return record;
  database.transaction(() => {
    putInForce(database, use);
    // One found by this record in former days must not come back at the next start, nor what was said of it.
    database.run("DELETE FROM zero_state WHERE station = ?", use.station);
    database.run("DELETE FROM zero_moved WHERE station = ?", use.station);
    alongside(record);
  });
  return record;
}

export function importCalibration(database: Database, record: CalibrationRecord, alongside: Alongside): Imported {
  const there = calibration(database, record.calibration_id);
  // As data: the order of fields in a file that went through other hands says nothing.
  if (there !== null) return isDeepStrictEqual(there, JSON.parse(JSON.stringify(record))) ? "known" : "differs";
  database.transaction(() => {
    keepRecord(database, record);
    alongside();
  });
  return "kept";
}

/** Does not begin a transaction of its own. */
export function keepRecord(database: Database, record: CalibrationRecord): void {
  database.run(
    "INSERT INTO calibration (calibration_id, station, record) VALUES (?, ?, ?) ON CONFLICT (calibration_id) DO NOTHING",
    record.calibration_id,
    record.station,
    JSON.stringify(record),
  );
}

/** Does not begin a transaction of its own. The record is kept. */
export function putInForce(database: Database, use: CalibrationToUse): void {
  if (isInForce(database, use)) return;
  database.run(
    "INSERT INTO calibration_in_force (station, calibration_id, at, performed_by) VALUES (?, ?, ?, ?)",
    use.station,
    use.calibration_id,
    use.at,
    use.performed_by,
  );
}

const isInForce = (database: Database, { station, calibration_id }: CalibrationToUse): boolean =>
  calibrationInForce(database, station)?.calibration_id === calibration_id;

export function calibrationInForce(database: Database, station: string): CalibrationRecord | null {
  return recordOf(
    database.get<{ record: string }>(
      `SELECT calibration.record FROM calibration_in_force JOIN calibration USING (calibration_id)
       WHERE calibration_in_force.station = ? ORDER BY since DESC LIMIT 1`,
      station,
    ),
  );
}

/** Newest first. */
export function timesInForce(database: Database, station: string): PutInForce[] {
  return database
    .all<PutInForce>(
      "SELECT calibration_id, at, performed_by FROM calibration_in_force WHERE station = ? ORDER BY since DESC",
      station,
    )
    .map((row) => ({ ...row }));
}

/** Newest first, in the order they were kept. */
export function calibrations(database: Database, station: string): CalibrationRecord[] {
  return database
    .all<{ record: string }>("SELECT record FROM calibration WHERE station = ? ORDER BY added DESC", station)
    .flatMap((row) => recordOf(row) ?? []);
}

export function calibration(database: Database, calibration_id: string): CalibrationRecord | null {
  return recordOf(
    database.get<{ record: string }>("SELECT record FROM calibration WHERE calibration_id = ?", calibration_id),
  );
}

function recordOf(row: { readonly record: string } | undefined): CalibrationRecord | null {
  return row === undefined ? null : (JSON.parse(row.record) as CalibrationRecord);
}
