/** Reads back what lies beside the store of calibrations; it may have been copied, edited or torn since. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { z } from "zod";
import {
  type CalibrationRecord,
  type CheckRecord,
  calibrationRecordSchema,
  checkRecordSchema,
} from "../../calibration/record.ts";
import type { CalibrationToUse } from "../ports.ts";
import { calibrationDirectory, type InForceMark } from "./calibration-files.ts";

/** What can still be read, each oldest first; files that cannot be are left out. */
export interface CalibrationFiles {
  readonly records: readonly CalibrationRecord[];
  readonly checks: readonly CheckRecord[];
  /** For each station that has a record: the one that was in force, if any was; where that is not known, the newest. */
  readonly in_force: readonly CalibrationToUse[];
}

const inForceSchema = z.strictObject({
  in_force_version: z.literal(1),
  station: z.string(),
  in_force: z
    .strictObject({
      calibration_id: z.uuid(),
      at: z.iso.datetime({ precision: 3 }),
      performed_by: z.string().nullable(),
    })
    .nullable(),
});

export function readCalibrationFiles(store_path: string): CalibrationFiles {
  const files = filesIn(calibrationDirectory(store_path));
  const records = fitting(files, calibrationRecordSchema).sort(byDate);
  const marks = fitting(files, inForceSchema);
  return { records, checks: fitting(files, checkRecordSchema).sort(byDate), in_force: inForce(records, marks) };
}

function inForce(records: readonly CalibrationRecord[], marks: readonly InForceMark[]): CalibrationToUse[] {
  const newest = new Map<string, CalibrationToUse>(records.map((record) => [record.station, record]));
  return [...newest.values()].flatMap((record) => {
    const { station } = record;
    const mark = marks.find((one) => one.station === station);
    if (mark === undefined) return [record];
    const { in_force } = mark;
    if (in_force === null) return [];
    const kept = records.some((one) => one.calibration_id === in_force.calibration_id && one.station === station);
    return [kept ? { station, ...in_force } : record];
  });
}

const byDate = (one: { readonly at: string }, other: { readonly at: string }): number =>
  Date.parse(one.at) - Date.parse(other.at);

const fitting = <T>(files: readonly unknown[], schema: z.ZodType<T>): T[] =>
  files.flatMap((content) => {
    const parsed = schema.safeParse(content);
    return parsed.success ? [parsed.data] : [];
  });

function filesIn(directory: string): unknown[] {
  try {
    return readdirSync(directory)
      .filter((name) => name.endsWith(".json"))
      .flatMap((name) => contentOf(join(directory, name)));
  } catch {
    return [];
  }
}

function contentOf(file: string): unknown[] {
  try {
    return [JSON.parse(readFileSync(file, "utf8"))];
  } catch {
    return [];
  }
}
