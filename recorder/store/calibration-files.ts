/**
 * Each calibration record and each check as a JSON file of its own beside the store, and for each station which record is
 * in force: for people, and for the day the store's file is damaged. Without a calibration the gym could not go on, and
 * hanging the masses again takes an afternoon.
 * Reading them is left to read-calibration-files.ts, whose schema library is more than all the rest of the storage thread
 * and is needed once in years.
 */
import { mkdirSync, renameSync, writeFileSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import type { CalibrationRecord, CheckRecord } from "../../calibration/record.ts";
import type { PutInForce } from "../ports.ts";
import { syncPath } from "./migrations.ts";

export const calibrationDirectory = (store_path: string): string => `${store_path}-calibrations`;

/** Each is written whole or not at all; writing the same again changes nothing. Throws what the file system throws. */
export function writeCalibrationFile(store_path: string, record: CalibrationRecord): void {
  write(store_path, `${record.station}-${record.calibration_id}`, record);
}

export function writeCheckFile(store_path: string, check: CheckRecord): void {
  write(store_path, `${check.station}-check-${check.check_id}`, check);
}

/** Which record is in force at a station; null: none is. */
export interface InForceMark {
  readonly station: string;
  readonly in_force: PutInForce | null;
}

/** Over the former one: among records of other days or of elsewhere nothing else says which one it is. */
export function writeInForceFile(store_path: string, station: string, in_force: PutInForce | null): void {
  const mark: InForceMark = { station, in_force: in_force === null ? null : putInForce(in_force) };
  write(store_path, `${station}-in-force`, { in_force_version: 1, ...mark });
}

const putInForce = ({ calibration_id, at, performed_by }: PutInForce): PutInForce => ({
  calibration_id,
  at,
  performed_by,
});

function write(store_path: string, name: string, content: object): void {
  const directory = calibrationDirectory(store_path);
  if (mkdirSync(directory, { recursive: true }) !== undefined) syncPath(dirname(directory));
  const file = join(directory, `${basename(name)}.json`);
  writeFileSync(`${file}.partial`, `${JSON.stringify(content, null, 2)}\n`);
  syncPath(`${file}.partial`);
  renameSync(`${file}.partial`, file);
  syncPath(directory);
}
