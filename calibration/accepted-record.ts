/** The calibration record that an accepted procedure leaves behind. */
import type { CellFacts, KnownLoad } from "./known-load.ts";
import type { CalibrationPoint, CalibrationRecord } from "./record.ts";
import type { StillPoint } from "./still-window.ts";
import type { TwoPoint } from "./two-point.ts";

export interface LoadedPoint {
  readonly load: KnownLoad;
  readonly point: StillPoint;
  readonly fit: TwoPoint;
}

export interface RecordFacts extends CellFacts {
  readonly station: string;
  readonly board: string | null;
  readonly amplifier: string | null;
  readonly gain: number | null;
}

export interface Accepted {
  readonly calibration_id: string;
  readonly at: string;
  readonly by: string | null;
  readonly due: string | null;
  readonly note: string | null;
  readonly facts: RecordFacts;
  readonly unloaded: StillPoint;
  readonly loaded: LoadedPoint;
}

export function recordOf(accepted: Accepted): CalibrationRecord {
  const { facts, loaded } = accepted;
  return {
    record_version: 1,
    calibration_id: accepted.calibration_id,
    station: facts.station,
    at: accepted.at,
    performed_by: accepted.by,
    zero_counts: loaded.fit.zero_counts,
    counts_per_N: loaded.fit.counts_per_N,
    points: [{ force_N: 0, mass_kg: null, ...measured(accepted.unloaded) }, loadPoint(loaded)],
    working_force_N: facts.working_force_N,
    cell_capacity_N: facts.cell_capacity_N,
    expanded_uncertainty_N: loaded.fit.expanded_uncertainty_N,
    budget: [...loaded.fit.budget],
    board: facts.board,
    amplifier: facts.amplifier,
    gain: facts.gain,
    due: accepted.due,
    note: accepted.note,
  };
}

function loadPoint({ load, point }: LoadedPoint): CalibrationPoint {
  const { force_N, mass_kg, at, lever_angle_deg, relative_tolerance } = load;
  return { force_N, mass_kg, ...measured(point), applied: { at, lever_angle_deg, relative_tolerance } };
}

type Measured = Pick<CalibrationPoint, "mean_counts" | "standard_error_counts" | "noise_counts" | "readings">;

function measured({ mean_counts, standard_error_counts, noise_counts, readings }: StillPoint): Measured {
  return { mean_counts, standard_error_counts, noise_counts, readings };
}
