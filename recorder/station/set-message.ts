/** Composes the finished set as it is stored and published, from what was armed and what the engine found. Pure. */
import { division_N } from "../../calibration/scale.ts";
import { lossUncertainty, setUncertainty } from "../../calibration/uncertainty/set-uncertainty.ts";
import type { Effort, SetMessage } from "../../protocol/messages/set.ts";
import { forceOut, fractionOut, measureOut, noiseOut, timeOut } from "../../protocol/units.ts";
import { CUT_SHORT } from "../../protocol/vocabulary.ts";
import type { EffortReport, SetResult } from "../set-engine/effects.ts";
import { EFFORT_SMOOTHING_S, ENGINE_VERSION, HOLD_SMOOTHING_S } from "../set-engine/setup.ts";
import type { ArmFacts } from "./arm-facts.ts";
import { pathRate_Hz, type SetPath } from "./set-path.ts";

/** What the recorder adds to every set it keeps. */
export type Kept = Pick<SetMessage, "recorder" | "boot" | "store">;

/** Wall-clock instant of a moment of the set, ISO 8601 UTC: the moment of arming plus device time since. */
export const instantOf = (facts: ArmFacts, at_us: number): string =>
  new Date(facts.wall_ms + (at_us - facts.at_us) / 1000).toISOString();

/** The set of a path that is over, in the published order. `set_seq` is the store's to give. */
export function setMessageOf(path: SetPath, result: SetResult, kept: Kept): SetMessage {
  const { facts } = path;
  const { setup } = facts;
  const started_at = instantOf(facts, result.onset_us);
  const best_N = result.best_N;
  const compared = setup.fatigue_threshold !== null;
  const today_best_N = best_N === null ? setup.today_best_force_N : Math.max(best_N, setup.today_best_force_N ?? 0);
  const lossFrom = (from_N: number | null): number | null => (compared ? lossSince(from_N, result.final_N) : null);
  return {
    schema_version: 1,
    at: instantOf(facts, result.decided_us),
    clock_synced: facts.clock_synced,
    recorder: kept.recorder,
    boot: kept.boot,
    simulated: facts.simulated,
    set_id: facts.set_id,
    store: kept.store,
    set_seq: 0,
    revision: 1,
    station: facts.station,
    exercise: facts.exercise,
    exercise_label: facts.exercise_label,
    trainee: facts.trainee,
    side: facts.side,
    style: setup.style,
    intent: setup.intent,
    warm_up: facts.warm_up,
    set_of_day: facts.set_of_day,
    rested_s: restedBefore(facts, started_at),
    fatigue_threshold: setup.fatigue_threshold,
    options: setup.options,
    tested_best_force_N: setup.options.tested_best_force_N,
    started_at,
    duration_s: out(timeOut(result.duration_s)),
    time_under_tension_s: out(timeOut(result.time_under_tension_s)),
    stop_reason: result.stop_reason,
    ended_because: result.ended_because,
    reached_threshold: result.reached_threshold,
    cut_short: CUT_SHORT.has(result.stop_reason),
    best_force_N: forceOut(best_N),
    today_best_force_N: forceOut(today_best_N),
    floor_force_N: forceOut(result.floor_N),
    final_force_N: forceOut(result.final_N),
    force_loss: fractionOut(lossFrom(best_N)),
    force_loss_today: fractionOut(lossFrom(today_best_N)),
    ...uncertainties(path, result),
    impulse_N_s: out(measureOut(result.impulse_N_s)),
    mean_force_N: forceOut(share(result.impulse_N_s, result.duration_s)),
    mean_effort_force_N: forceOut(share(result.impulse_N_s, result.time_under_tension_s)),
    decline_per_s: fractionOut(result.decline_per_s),
    decline_per_effort: fractionOut(result.decline_per_effort),
    concentric_best_force_N: forceOut(result.concentric_best_N),
    eccentric_best_force_N: forceOut(result.eccentric_best_N),
    decided_by: result.decided_by,
    efforts: result.efforts.map((effort) => effortOut(effort, result.onset_us)),
    resting_force_N: forceOut(result.resting_N),
    resting_subtracted: setup.subtract_resting && result.resting_N !== null,
    calibration_id: facts.calibration.calibration_id,
    ...expanded(path, result),
    zero_shift_N: null,
    quality: {
      readings: path.readings,
      readings_lost: path.tally.readings_lost,
      lines_rejected: path.tally.lines_rejected,
      despiked: path.tally.despiked,
      saturated: path.tally.saturated,
      reading_rate_Hz: measureOut(pathRate_Hz(path)),
      noise_N: noiseOut(setup.noise_N),
      best_unconfirmed: result.best_unconfirmed,
      warming_up: facts.warming_up,
    },
    engine: ENGINE_VERSION,
    void: false,
    pain: null,
    exertion: null,
    note: null,
  };
}

/** Loss from one force to what was left of it, 0..1; null where either is not known. */
export function lossSince(from_N: number | null, final_N: number | null): number | null {
  // A set may end on a peak above its best, which one peak alone does not raise: nothing was lost.
  return from_N === null || final_N === null ? null : Math.max(0, (from_N - final_N) / from_N);
}

/** One effort for a message: times from the set's first onset. */
export function effortOut(effort: EffortReport, onset_us: number): Effort {
  const duration_s = (effort.end_us - effort.start_us) / 1e6;
  return {
    effort_number: effort.effort_number,
    start_s: out(timeOut((effort.start_us - onset_us) / 1e6)),
    duration_s: out(timeOut(duration_s)),
    peak_force_N: out(forceOut(effort.peak_N)),
    valley_force_N: forceOut(effort.valley_N),
    mean_force_N: out(forceOut(share(effort.impulse_N_s, duration_s))),
    impulse_N_s: out(measureOut(effort.impulse_N_s)),
    muscle_action: effort.muscle_action,
    floor_force_N: forceOut(effort.floor_N),
    below_floor: effort.below_floor,
    counted: effort.counted,
    brief: effort.brief,
  };
}

/** What the engine measured is finite: null could only come of a broken rule, and zero must not hide it. */
function out(value: number | null): number {
  if (value === null) throw new Error("a measured figure of a set is not a finite number");
  return value;
}

const share = (whole: number, part: number): number | null => (part > 0 ? whole / part : null);

/** s; null where there was no set before, or its end is later by a clock that was set since. */
export function restedBefore(
  { last_set_ended_at }: Pick<ArmFacts, "last_set_ended_at">,
  started_at: string,
): number | null {
  if (last_set_ended_at === null) return null;
  const rested_s = (Date.parse(started_at) - Date.parse(last_set_ended_at)) / 1000;
  return rested_s < 0 ? null : timeOut(rested_s);
}

function trusted(path: SetPath, result: SetResult) {
  const { setup } = path.facts;
  const moving = setup.style !== "hold" || (setup.resistance !== "locked" && setup.resistance !== "elastic");
  const window_s = setup.style === "hold" ? HOLD_SMOOTHING_S : EFFORT_SMOOTHING_S;
  return {
    best_force_N: result.best_N ?? 0,
    cell_capacity_N: setup.cell_capacity_N,
    noise_N: Math.max(setup.noise_N, division_N(setup.cell_capacity_N) / 100),
    smoothed_readings: window_s * setup.reading_rate_Hz,
    moving_resting_force_N: moving ? result.resting_N : null,
  };
}

function uncertainties(path: SetPath, result: SetResult): Pick<SetMessage, "force_loss_uncertainty"> {
  const compared = path.facts.setup.fatigue_threshold !== null;
  if (!compared || result.best_N === null || result.final_N === null) return { force_loss_uncertainty: null };
  const uncertainty = lossUncertainty({
    ...trusted(path, result),
    final_force_N: result.final_N,
    is_hold: path.facts.setup.style === "hold",
    record: path.facts.calibration,
  });
  return { force_loss_uncertainty: fractionOut(uncertainty) };
}

function expanded(path: SetPath, result: SetResult): Pick<SetMessage, "expanded_uncertainty_N"> {
  if (result.best_N === null) return { expanded_uncertainty_N: null };
  return {
    expanded_uncertainty_N: forceOut(setUncertainty({ ...trusted(path, result), record: path.facts.calibration })),
  };
}
