/** Reads back the calibration records that lie beside the store; they may have been copied, edited or torn since. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { type CalibrationRecord, calibrationRecordSchema } from "../../calibration/record.ts";
import { calibrationDirectory } from "./calibration-files.ts";

/** Every record that can still be read, oldest first; files that cannot be are left out. */
export function readCalibrationFiles(store_path: string): CalibrationRecord[] {
  const directory = calibrationDirectory(store_path);
  return filesIn(directory)
    .flatMap((name) => recordIn(join(directory, name)))
    .sort((one, other) => Date.parse(one.at) - Date.parse(other.at));
}

function filesIn(directory: string): string[] {
  try {
    return readdirSync(directory).filter((name) => name.endsWith(".json"));
  } catch {
    return [];
  }
}

function recordIn(file: string): CalibrationRecord[] {
  try {
    const parsed = calibrationRecordSchema.safeParse(JSON.parse(readFileSync(file, "utf8")));
    return parsed.success ? [parsed.data] : [];
  } catch {
    return [];
  }
}
