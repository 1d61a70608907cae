/**
 * Each accepted calibration record as a JSON file of its own beside the store, for people, and for the day the store's
 * file is damaged: without a calibration the gym could not go on, and hanging the masses again takes an afternoon.
 * Reading them is left to read-calibration-files.ts, whose schema library is more than all the rest of the storage thread
 * and is needed once in years.
 */
import { mkdirSync, renameSync, writeFileSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import type { CalibrationRecord } from "../../calibration/record.ts";
import { syncPath } from "./migrations.ts";

export const calibrationDirectory = (store_path: string): string => `${store_path}-calibrations`;

/** Written whole or not at all; writing the same record again changes nothing. Throws what the file system throws. */
export function writeCalibrationFile(store_path: string, record: CalibrationRecord): void {
  const directory = calibrationDirectory(store_path);
  if (mkdirSync(directory, { recursive: true }) !== undefined) syncPath(dirname(directory));
  const file = join(directory, `${basename(record.station)}-${record.calibration_id}.json`);
  writeFileSync(`${file}.partial`, `${JSON.stringify(record, null, 2)}\n`);
  syncPath(`${file}.partial`);
  renameSync(`${file}.partial`, file);
  syncPath(directory);
}
