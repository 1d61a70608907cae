/** Known loads hung to see whether a record still holds: append-only, too. A check may move the day its record is due. */
import type { CheckRecord } from "../../calibration/record.ts";
import { calibrationInForce } from "./calibrations.ts";
import type { Database } from "./database.ts";

/** The same check again changes nothing. Where `alongside` throws, nothing is kept. */
export function saveCheck(database: Database, check: CheckRecord, alongside: () => void): void {
  database.transaction(() => {
    keepCheck(database, check);
    alongside();
  });
}

/** Does not begin a transaction of its own. */
export function keepCheck(database: Database, check: CheckRecord): void {
  database.run(
    `INSERT INTO calibration_check (check_id, calibration_id, station, record) VALUES (?, ?, ?, ?)
     ON CONFLICT (check_id) DO NOTHING`,
    check.check_id,
    check.calibration_id,
    check.station,
    JSON.stringify(check),
  );
}

/** Newest first, in the order they were kept. */
export function checks(database: Database, station: string): CheckRecord[] {
  return database
    .all<{ record: string }>("SELECT record FROM calibration_check WHERE station = ? ORDER BY added DESC", station)
    .map((row) => JSON.parse(row.record) as CheckRecord);
}

/** Of the record in force: the latest of its own due and of those of its checks; null: none has one. */
export function calibrationDue(database: Database, station: string): string | null {
  const record = calibrationInForce(database, station);
  if (record === null) return null;
  const ofChecks = database.all<{ due: string | null }>(
    "SELECT json_extract(record, '$.due') AS due FROM calibration_check WHERE calibration_id = ? AND station = ?",
    record.calibration_id,
    station,
  );
  // Instants of one form, so that the later one is the greater text.
  return [record.due, ...ofChecks.map((row) => row.due)].reduce(later, null);
}

const later = (one: string | null, other: string | null): string | null =>
  one === null || (other !== null && other > one) ? other : one;
