/**
 * The calibration record a technician would have taken at a simulated rig some days ago: an unloaded point, a known force,
 * and checks, all read through the rig's own noise and creep, and the same arithmetic as on hardware. The known force was a
 * little off, within the tolerance stated for it, as known forces are.
 */

import type { StillPoint } from "../../calibration/procedure/still-window.ts";
import type { CalibrationRecord, Check } from "../../calibration/record.ts";
import { forceOf } from "../../calibration/scale.ts";
import { summarise } from "../../calibration/statistics.ts";
import { checkLines } from "../../calibration/uncertainty/check-budget.ts";
import { fitTwoPoint, type TwoPoint } from "../../calibration/uncertainty/two-point.ts";
import { expanded_N } from "../../calibration/uncertainty/uncertainty.ts";
import type { StationConfiguration } from "../configuration/schema.ts";
import { seedFor, uniformAt } from "./random.ts";
import { convert, type Gain, type Rig, type RigState, UNLOADED } from "./rig.ts";

const TOLERANCE = 0.002;
/** Of the working force: the load point, the lighter check, and with nothing on again. */
const LOAD = 0.8;
const CHECKED = [0.4, 0] as const;
const PERIOD_S = 1 / 80;
const DWELL_READINGS = 20 * 80;
const WINDOW_READINGS = 3 * 80;
const YEAR_MS = 365 * 24 * 3600 * 1000;

export function calibrated(
  station: StationConfiguration,
  rig: Rig,
  amplifier: string,
  when: { readonly calibration_id: string; readonly taken_ms: number },
  seed: number,
): CalibrationRecord {
  const force_N = LOAD * station.working_force_N;
  const off = TOLERANCE * (2 * uniformAt(seedFor(seed, "known force"), 0) - 1);
  const unloaded = captured(rig, UNLOADED, 0, station.gain, seed);
  const loaded = captured(rig, unloaded.state, force_N * (1 + off), station.gain, seed);
  const fitted = fitTwoPoint(
    unloaded.point,
    loaded.point,
    { force_N, mass_kg: null, ...APPLIED },
    station,
    WINDOW_READINGS * PERIOD_S * 1e6,
  );
  if (!fitted.ok) throw new Error(`the simulated rig "${station.id}" cannot be calibrated: ${fitted.error.message}`);
  const { zero_counts, counts_per_N } = fitted.fit;
  const { cell_capacity_N } = station;
  const checks: Check[] = [];
  let { state } = loaded;
  for (const share of CHECKED) {
    const hung_N = share * station.working_force_N;
    // The same plates, so off by the same share.
    const taken = captured(rig, state, hung_N * (1 + off), station.gain, seed);
    state = taken.state;
    checks.push(checkOf(taken.point, hung_N, fitted.fit));
  }
  const budget = [...fitted.fit.budget, ...checkLines({ checks, load_N: force_N, cell_capacity_N })];
  return {
    record_version: 1,
    calibration_id: when.calibration_id,
    station: station.id,
    at: new Date(when.taken_ms).toISOString(),
    performed_by: "technician-1",
    zero_counts,
    counts_per_N,
    points: [pointOf(unloaded.point, 0), pointOf(loaded.point, force_N)],
    checks,
    working_force_N: station.working_force_N,
    cell_capacity_N,
    expanded_uncertainty_N: expanded_N(budget),
    budget,
    board: station.board ?? null,
    amplifier,
    gain: station.gain,
    due: new Date(when.taken_ms + YEAR_MS).toISOString(),
    note: "simulated rig",
  };
}

/** Dwell, then a still window, with a steady force on the handle. */
function captured(
  rig: Rig,
  from: RigState,
  handle_N: number,
  gain: Gain,
  seed: number,
): { readonly state: RigState; readonly point: StillPoint } {
  const counts: number[] = [];
  let state = from;
  for (let reading = 0; reading < DWELL_READINGS + WINDOW_READINGS; reading++) {
    const at_s = state.conversions * PERIOD_S;
    const step = convert(rig, state, { handle_N, elapsed_s: PERIOD_S, at_s, gain, rate: 80 }, seedFor(seed, "points"));
    state = step.state;
    if (reading >= DWELL_READINGS) counts.push(step.counts);
  }
  const { mean, sd, standard_error, readings } = summarise(counts);
  // Nothing moves on a simulated bench: the trend is noise, and far below what a technician would be refused for.
  const point = {
    mean_counts: mean,
    standard_error_counts: standard_error,
    noise_counts: sd,
    trend_counts: 0,
    readings,
  };
  return { state, point };
}

function pointOf(point: StillPoint, force_N: number): CalibrationRecord["points"][number] {
  const { mean_counts, standard_error_counts, noise_counts, readings } = point;
  return { force_N, mass_kg: null, mean_counts, standard_error_counts, noise_counts, readings };
}

const APPLIED = { at: "cell", lever_angle_deg: null, relative_tolerance: TOLERANCE } as const;

function checkOf(point: StillPoint, force_N: number, { zero_counts, counts_per_N }: TwoPoint): Check {
  const indicated_force_N = forceOf(point.mean_counts, zero_counts, counts_per_N);
  const nothing = force_N === 0;
  return {
    when: "as-left",
    ...pointOf(point, force_N),
    loading: "decreasing",
    series: 1,
    indicated_force_N,
    relative_error: nothing ? null : (indicated_force_N - force_N) / force_N,
    ...(nothing ? {} : { applied: APPLIED }),
  };
}
