/** The messages of a station, without their envelope, rounded for the wire. Pure functions of the station. */

import { warmUpLeft_s } from "../../calibration/warm-up.ts";
import { zeroShift_N } from "../../calibration/zero/zero.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { forceOut, fractionOut, measureOut, noiseOut, timeOut } from "../../protocol/units.ts";
import { viewOf } from "../set-engine/view.ts";
import type { Body } from "./exchange.ts";
import { reasonsOf } from "./readiness.ts";
import type { SetPath } from "./set-path.ts";
import { phaseOf, type Station } from "./state.ts";

/** Live values go out of date after this many intervals. */
const TTL_INTERVALS = 3;

export function liveBody(station: Station): Body {
  const { set, live, desk, sensor, configuration } = station;
  const shown = set?.path ?? desk.finished?.path ?? null;
  const view = shown === null ? null : viewOf(shown.engine);
  const silent = sensor.force_N === null;
  return {
    set_id: shown?.facts.set_id ?? null,
    phase: phaseOf(station),
    live_seq: live.seq,
    elapsed_s: timeOut(view?.elapsed_s ?? null),
    force_N: forceOut(sensor.force_N),
    min_force_N: silent ? null : forceOut(live.min_N),
    max_force_N: silent ? null : forceOut(live.max_N),
    best_force_N: forceOut(view?.best_N ?? null),
    floor_force_N: forceOut(view?.floor_N ?? null),
    force_reserve: fractionOut(view?.reserve ?? null),
    effort_number: view?.effort_number ?? 0,
    below_floor_s: timeOut(view?.below_floor_s ?? null),
    // Without readings a message a second says so.
    ttl_s: timeOut(TTL_INTERVALS * (silent ? 1 : 1 / configuration.live_rate_Hz)),
    ...whileCalibrated(station),
  };
}

/** Before there is a scale, counts are all there is to look at. */
function whileCalibrated({ procedure, sensor }: Station): Body {
  if (procedure.is === "closed") return {};
  const { median_counts } = sensor;
  return {
    counts: Number.isNaN(median_counts) ? null : median_counts,
    still: procedure.stillness.judged.still,
  };
}

export function stateBody(station: Station): Body {
  const { set, desk, configuration } = station;
  const finished = set === null ? desk.finished : null;
  const shown = set ?? finished;
  const facts = shown?.path.facts ?? null;
  return {
    phase: phaseOf(station),
    set_id: facts?.set_id ?? null,
    trainee: facts?.trainee ?? null,
    side: facts?.side ?? null,
    exercise: facts?.exercise ?? configuration.exercise,
    exercise_label: facts?.exercise_label ?? configuration.exercise_label ?? configuration.exercise,
    style: facts?.setup.style ?? null,
    intent: facts?.setup.intent ?? null,
    fatigue_threshold: facts?.setup.fatigue_threshold ?? null,
    resting_force: shown === null ? "not-needed" : restingOf(shown.path),
    setup: facts?.setup_notes ?? {},
    comparable_set: comparable(shown?.comparable ?? null),
    last_ended_at: desk.last_ended_at,
    stop_reason: finished?.stop_reason ?? null,
  };
}

function restingOf({ engine, facts }: SetPath): "taken" | "not-taken" | "not-needed" {
  const resting_N = engine.is === "over" ? engine.result.resting_N : engine.is === "disarmed" ? null : engine.resting_N;
  if (resting_N !== null) return "taken";
  return facts.setup.subtract_resting ? "not-taken" : "not-needed";
}

/** As it was kept, without the envelope it was sent in. */
function comparable(set: SetMessage | null): Body | null {
  if (set === null) return null;
  const { schema_version, at, clock_synced, recorder, boot, simulated, ...rest } = set;
  return rest;
}

export function sensorBody(station: Station): Body {
  const { sensor, desk, board, line } = station;
  const { scale, zero, stillness, rate } = sensor;
  const reasons = reasonsOf(station);
  const shift_N = scale === null || zero === null ? null : zeroShift_N(zero, scale.zero_facts);
  return {
    ready: reasons.length === 0,
    reasons,
    force_N: forceOut(sensor.force_N),
    zero_shift_N: forceOut(shift_N),
    noise_N: noiseOut(stillness.judged.noise_N),
    reading_rate_Hz: measureOut(rate.rate_Hz),
    lines_rejected: Object.values(line.rejects).reduce((sum, count) => sum + count, 0),
    readings_lost: sensor.readings_lost,
    calibration_id: scale?.record.calibration_id ?? null,
    calibration_due: scale?.due ?? null,
    warming_up: isWarmingUp(station),
    board: board.hello?.board ?? null,
    firmware: board.hello?.firmware ?? null,
    alarms: desk.alarms,
  };
}

export const isWarmingUp = ({ sensor, board }: Station): boolean =>
  warmUpLeft_s(sensor.at_us, board.powered_up_at_us) > 0;

/** What makes a `sensor` message a change: everything in it but the measured values that move all the time. */
export function sensorChanges(body: Body): string {
  const { force_N, zero_shift_N, noise_N, reading_rate_Hz, lines_rejected, readings_lost, ...rest } = body;
  return JSON.stringify(rest);
}
