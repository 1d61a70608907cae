/** The records that an accepted procedure leaves behind: a calibration, or a check of the one in force. */

import type { CalibrationPoint, CalibrationRecord, Check, CheckRecord } from "../record.ts";
import type { TwoPoint } from "../uncertainty/two-point.ts";
import { appliedOf, type CellFacts } from "./known-load.ts";
import type { InForce, TakenLoad } from "./procedure-state.ts";
import type { StillPoint } from "./still-window.ts";

export interface RecordFacts extends CellFacts {
  readonly station: string;
  readonly board: string | null;
  readonly amplifier: string | null;
  readonly gain: number | null;
  readonly cell: string | null;
}

interface Said {
  readonly calibration_id: string;
  readonly at: string;
  readonly by: string | null;
  readonly due: string | null;
  readonly note: string | null;
}

export interface Accepted extends Said {
  readonly facts: RecordFacts;
  readonly unloaded: StillPoint;
  readonly loads: readonly TakenLoad[];
  /** With what the checks added to its budget. */
  readonly fit: TwoPoint;
  readonly checks: readonly Check[];
}

export function recordOf(accepted: Accepted): CalibrationRecord {
  const { facts, fit } = accepted;
  return {
    record_version: 1,
    calibration_id: accepted.calibration_id,
    station: facts.station,
    at: accepted.at,
    performed_by: accepted.by,
    zero_counts: fit.zero_counts,
    counts_per_N: fit.counts_per_N,
    points: [{ force_N: 0, mass_kg: null, ...measured(accepted.unloaded) }, ...accepted.loads.map(loadPoint)],
    checks: [...accepted.checks],
    friction_N: fit.friction_N,
    working_force_N: facts.working_force_N,
    cell_capacity_N: facts.cell_capacity_N,
    expanded_uncertainty_N: fit.expanded_uncertainty_N,
    budget: [...fit.budget],
    board: facts.board,
    amplifier: facts.amplifier,
    gain: facts.gain,
    cell: facts.cell,
    due: accepted.due,
    note: accepted.note,
  };
}

export interface AcceptedCheck extends Said {
  readonly station: string;
  readonly in_force: InForce;
  readonly checks: readonly Check[];
}

/** Under an id of its own: the accept's. */
export function checkRecordOf(accepted: AcceptedCheck): CheckRecord {
  return {
    check_version: 1,
    check_id: accepted.calibration_id,
    calibration_id: accepted.in_force.calibration_id,
    station: accepted.station,
    at: accepted.at,
    performed_by: accepted.by,
    checks: [...accepted.checks],
    zero_shift_N: accepted.in_force.zero_shift_N,
    due: accepted.due,
    note: accepted.note,
  };
}

function loadPoint({ load, loading, point }: TakenLoad): CalibrationPoint {
  const { force_N, mass_kg } = load;
  return { force_N, mass_kg, ...measured(point), loading, applied: appliedOf(load) };
}

type Measured = Pick<CalibrationPoint, "mean_counts" | "standard_error_counts" | "noise_counts" | "readings">;

/** What a still window read, for the record. */
export function measured({ mean_counts, standard_error_counts, noise_counts, readings }: StillPoint): Measured {
  return { mean_counts, standard_error_counts, noise_counts, readings };
}
