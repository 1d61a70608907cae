/** What `calibrations` answers: the records of a station, which is in force and since when, its checks, and its zero. */
import type { CalibrationsResult } from "../../protocol/requests/results.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import { forceOut } from "../../protocol/units.ts";
import type { CalibrationStore } from "../ports.ts";

export type CalibrationsRead = Pick<
  CalibrationStore,
  "calibrations" | "calibrationInForce" | "calibrationDue" | "putInForce" | "checks" | "zeros"
>;

/** The longest history of a zero in one answer: two weeks of one that never rests. */
const ZEROS_SAID = 2000;

/** Rejects with what the store rejects with. */
export async function calibrationsOf(
  { station, zeros: with_zeros }: ArgsOf<"calibrations">,
  store: CalibrationsRead,
): Promise<CalibrationsResult> {
  const [inForce, due, calibrations, checks, in_force_since] = await Promise.all([
    store.calibrationInForce(station),
    store.calibrationDue(station),
    store.calibrations(station),
    store.checks(station),
    store.putInForce(station),
  ]);
  const in_force = inForce?.calibration_id ?? null;
  const answer = {
    in_force,
    due,
    calibrations: [...calibrations],
    checks: [...checks],
    in_force_since: in_force_since.map((since) => ({ ...since })),
  };
  if (with_zeros !== true) return answer;
  const scales = new Map(calibrations.map((record) => [record.calibration_id, record.counts_per_N]));
  const zeros = (await store.zeros(station, ZEROS_SAID)).map((zero) => {
    const { at, calibration_id, shift_counts, cause, performed_by } = zero;
    const counts_per_N = scales.get(calibration_id);
    const zero_shift_N = counts_per_N === undefined ? null : forceOut(shift_counts / counts_per_N);
    return { at, calibration_id, shift_counts, zero_shift_N, cause, performed_by };
  });
  return { ...answer, zeros };
}
