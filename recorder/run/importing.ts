/** A calibration record of elsewhere, or of before: looked at closely, and kept beside what is in force. */
import { type CalibrationRecord, calibrationRecordSchema } from "../../calibration/record.ts";
import { closest } from "../../protocol/requests/closest.ts";
import { check, sayFault } from "../../protocol/requests/faults.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { Store } from "../ports.ts";

export interface ImportingPorts {
  readonly stations: readonly string[];
  readonly store: Pick<Store, "importCalibration">;
}

/** Rejects with what the store rejects with. */
export async function importCalibration(
  calibration: Readonly<Record<string, unknown>>,
  { stations, store }: ImportingPorts,
): Promise<Outcome> {
  const checked = check(calibrationRecordSchema, calibration);
  const faults = checked.ok ? impossible(checked.value) : checked.faults.map(sayFault);
  if (!checked.ok || faults.length > 0) {
    const message = `This is not a calibration record: ${faults.join("; ")}.`;
    return refused("bad-request", message, "Import what `calibrations` exported, as it is.");
  }
  const { calibration_id, station } = checked.value;
  if (!stations.includes(station)) return stranger(station, stations);
  const imported = await store.importCalibration(checked.value);
  if (imported === "differs") {
    return refused(
      "not-permitted",
      `Another record is kept under ${calibration_id}, and a record is never changed.`,
      "Find out which of the two was changed by hand; the one that is kept stays.",
    );
  }
  return done({ calibration_id, station, imported: imported === "kept" });
}

/** What a schema does not say, and no force could be reckoned with. */
export function impossible(record: CalibrationRecord): string[] {
  const { counts_per_N, ...rest } = record;
  const positive = (["working_force_N", "cell_capacity_N"] as const).filter((name) => rest[name] <= 0);
  return [
    ...(counts_per_N === 0 ? ["counts_per_N must not be 0"] : []),
    ...positive.map((name) => `${name} must be more than 0`),
    ...(rest.expanded_uncertainty_N < 0 ? ["expanded_uncertainty_N must be at least 0"] : []),
  ];
}

function stranger(station: string, stations: readonly string[]): Outcome {
  const near = closest(station, stations);
  const there = `There are: ${stations.join(", ")}.`;
  return refused(
    "unknown-station",
    `The record is of the station ${station}, which is not here.`,
    near === null ? there : `Was it ${near}? ${there}`,
  );
}
