import { z } from "zod";
import { calibrationRecordSchema } from "../../../calibration/record.ts";
import { stationCommand } from "../ask-command.ts";
import { sayInstant } from "../instants.ts";
import { type House, sayForce } from "../quantities.ts";
import { sayTable } from "../table.ts";

const resultSchema = z.looseObject({
  in_force: z.string().nullable(),
  calibrations: z.array(z.looseObject(calibrationRecordSchema.shape)),
});

export const command = stationCommand({
  verb: "calibrations",
  fields: {},
  example: "tidemark calibrations leg-press",
  result: resultSchema,
  say: sayCalibrations,
});

function sayCalibrations({ in_force, calibrations }: z.infer<typeof resultSchema>, house: House): string {
  if (calibrations.length === 0) return "no calibration is kept for this station";
  const rows = calibrations.map((record) => [
    record.calibration_id === in_force ? "in force" : "",
    sayInstant(record.at, house.time_zone),
    record.counts_per_N.toPrecision(6),
    `${sayForce(record.expanded_uncertainty_N, house)} at ${sayForce(record.working_force_N, house, 0)}`,
    record.due === null ? "-" : sayInstant(record.due, house.time_zone).slice(0, 10),
    record.performed_by ?? "-",
    record.calibration_id,
  ]);
  return sayTable([["", "taken", "counts/N", "uncertainty (k = 2)", "due", "by", "calibration"], ...rows], [2]);
}
