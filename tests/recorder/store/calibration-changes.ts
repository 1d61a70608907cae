/** What a technician's year does to a store, one numbered change after the other; each follows from its number. */
import type { CalibrationStore } from "../../../recorder/ports.ts";
import { instantAt, inventedCheck, inventedRecord } from "./invented.ts";

type Changing = "saveCalibration" | "saveZero" | "saveCheck" | "importCalibration" | "useCalibration";
export type Change = {
  readonly [Method in Changing]: { readonly method: Method; readonly args: Parameters<CalibrationStore[Method]> };
}[Changing];

const STATION = "leg-press";
const KINDS = 5;

/** Round and round: calibrate, zero, check, import a record, put that one in force. */
export function changeOf(number: number): Change {
  const record = inventedRecord(number, { note: "x".repeat(2000) });
  const begun = number - (number % KINDS);
  switch (number % KINDS) {
    case 0:
      return { method: "saveCalibration", args: [record] };
    case 1: {
      const { calibration_id } = inventedRecord(begun);
      const zero = { calibration_id, shift_counts: number, asked_shift_counts: number };
      return {
        method: "saveZero",
        args: [STATION, { ...zero, at: instantAt(number), cause: "asked", performed_by: null }],
      };
    }
    case 2:
      return { method: "saveCheck", args: [inventedCheck(number, {}, inventedRecord(begun))] };
    case 3:
      return { method: "importCalibration", args: [record] };
    default: {
      const { calibration_id } = inventedRecord(number - 1);
      const use = { station: STATION, calibration_id, at: instantAt(number), performed_by: "tech-2" };
      return { method: "useCalibration", args: [use] };
    }
  }
}
