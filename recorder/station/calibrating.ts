/** The two-point procedure at a station: what it asks for, carried out. */
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import type { InForce, ProcedureFacts, ProcedureStep } from "../../calibration/procedure/procedure-state.ts";
import { zeroInUse_counts, zeroShift_N } from "../../calibration/zero/zero.ts";
import type { Outcome } from "../../protocol/requests/response.ts";
import { troubleOf } from "./board.ts";
import { type Ask, instant, type Now, type StationEffect } from "./exchange.ts";
import { takenAlready } from "./readiness.ts";
import { only, type Station, type Step } from "./state.ts";

export function factsOf(station: Station): ProcedureFacts {
  const { configuration, board } = station;
  return {
    station: configuration.id,
    cell_capacity_N: configuration.cell_capacity_N,
    force_limit_N: configuration.force_limit_N,
    working_force_N: configuration.working_force_N,
    latitude_deg: configuration.latitude_deg,
    altitude_m: configuration.altitude_m,
    board: board.hello?.board ?? null,
    amplifier: board.hello?.amplifier ?? null,
    gain: board.gain,
    powered_up_at_us: board.powered_up_at_us,
    cell: configuration.cell ?? null,
    in_force: inForce(station),
  };
}

/** What checks as found are read by; a record that is not of what is on the line gives no force. */
function inForce({ sensor: { scale, zero } }: Station): InForce | null {
  if (scale === null || scale.mismatch !== null || zero === null) return null;
  const { calibration_id, counts_per_N } = scale.zero_facts;
  return {
    calibration_id,
    counts_per_N,
    zero_counts: zeroInUse_counts(zero, scale.zero_facts),
    zero_shift_N: zeroShift_N(zero, scale.zero_facts),
  };
}

/** A step of the procedure: its state kept, its answers given, its record on the way to the store. */
export function carryProcedure(station: Station, { state, effects }: ProcedureStep): Step {
  const carried = state === station.procedure ? station : { ...station, procedure: state };
  if (effects.length === 0) return only(carried);
  const kept = effects.find((effect) => effect.do !== "answer");
  const told = effects.flatMap((effect): StationEffect[] => {
    if (effect.do !== "answer") return [];
    const { request, outcome } = effect;
    // A record counts only once it is kept: its answer waits for that.
    if (kept !== undefined && outcome.ok) {
      return kept.do === "accepted"
        ? [{ do: "save-calibration", record: kept.record, request_id: request, outcome }]
        : [{ do: "save-check", check: kept.check, request_id: request, outcome }];
    }
    return [{ do: "answer", request_id: request, outcome }];
  });
  return { station: carried, effects: told };
}

/** The calibration verbs that need nothing from outside. */
export function askCalibration(station: Station, ask: Ask, now: Now): Step {
  const { request_id, request } = ask;
  const refuse = (outcome: Outcome): Step => ({ station, effects: [{ do: "answer", request_id, outcome }] });
  const { procedure } = station;
  switch (request.verb) {
    case "calibration-begin": {
      const why = cannotCalibrate(station);
      if (why !== null) return refuse(why);
      const begin = {
        kind: "begin",
        request: request_id,
        by: ask.by,
        now: instant(now),
        at_us: station.sensor.at_us,
        facts: factsOf(station),
      } as const;
      return carryProcedure(station, stepProcedure(procedure, begin));
    }
    case "calibration-zero":
      return carryProcedure(station, stepProcedure(procedure, { kind: "zero", request: request_id }));
    case "calibration-load": {
      const { station: _station, performed_by: _by, ...load } = request.args;
      return carryProcedure(station, stepProcedure(procedure, { kind: "load", request: request_id, ...load }));
    }
    case "calibration-check": {
      const { station: _station, performed_by: _by, ...check } = request.args;
      return carryProcedure(station, stepProcedure(procedure, { kind: "check", request: request_id, ...check }));
    }
    case "calibration-abandon":
      return carryProcedure(station, stepProcedure(procedure, { kind: "abandon", request: request_id }));
    default:
      return only(station);
  }
}

function cannotCalibrate(station: Station): Outcome | null {
  const taken = takenAlready(station);
  if (taken !== null) return { ok: false, error: taken };
  const why = troubleOf(station);
  return why === null ? null : { ok: false, error: { code: "sensor-fault", message: why } };
}
