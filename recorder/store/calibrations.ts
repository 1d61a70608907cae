/**
 * Calibration records and which is in force at each station. Both are append-only: the record in force is the last one
 * put in force, and what was in force before stays written.
 */
import type { CalibrationRecord } from "../../calibration/record.ts";
import type { Database } from "./database.ts";

/**
 * Keeps records and puts each in force, in the order given. The same record again, while in force, changes nothing.
 * Where `alongside` throws, nothing is kept.
 */
export function saveCalibrations(
  database: Database,
  records: readonly CalibrationRecord[],
  alongside: () => void = () => {},
): void {
  database.transaction(() => {
    for (const record of records) putInForce(database, record);
    alongside();
  });
}

export function hasCalibrations(database: Database): boolean {
  return database.get<{ some: number }>("SELECT EXISTS (SELECT 1 FROM calibration) AS some")?.some === 1;
}

function putInForce(database: Database, record: CalibrationRecord): void {
  database.run(
    "INSERT INTO calibration (calibration_id, station, record) VALUES (?, ?, ?) ON CONFLICT (calibration_id) DO NOTHING",
    record.calibration_id,
    record.station,
    JSON.stringify(record),
  );
  if (calibrationInForce(database, record.station)?.calibration_id === record.calibration_id) return;
  database.run(
    "INSERT INTO calibration_in_force (station, calibration_id, at) VALUES (?, ?, ?)",
    record.station,
    record.calibration_id,
    record.at,
  );
}

export function calibrationInForce(database: Database, station: string): CalibrationRecord | null {
  return recordOf(
    database.get<{ record: string }>(
      `SELECT calibration.record FROM calibration_in_force JOIN calibration USING (calibration_id)
       WHERE calibration_in_force.station = ? ORDER BY since DESC LIMIT 1`,
      station,
    ),
  );
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
