/** Where a station's zero stood, one movement a line. */
import { sayInstant } from "../instants.ts";
import { type House, sayForce } from "../quantities.ts";
import { sayTable } from "../table.ts";
import { type KeptZeros, shortId } from "./kept.ts";

const CAUSES: Readonly<Record<string, string>> = {
  asked: "asked for",
  tracked: "followed the drift",
  restored: "put back, a hand was on the asked one",
};

export function sayZeros(zeros: KeptZeros, house: House): string {
  if (zeros.length === 0) return "the zero of this station has not moved since its history is kept";
  const rows = zeros.map(({ at, zero_shift_N, shift_counts, cause, performed_by, calibration_id }) => [
    sayInstant(at, house.time_zone),
    sayForce(zero_shift_N, house, 2),
    shift_counts.toFixed(1),
    // One of a newer recorder is shown as it is.
    CAUSES[cause] ?? cause,
    performed_by ?? "-",
    shortId(calibration_id),
  ]);
  return sayTable([["at", "from the calibrated zero", "counts", "", "by", "record"], ...rows], [1, 2]);
}
