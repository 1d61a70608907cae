/** What is asked of a station besides a begin: end, zero, resting force, calibration, and that it was inspected. */
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import { busyCalibrating } from "../../calibration/procedure/procedure-refusals.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import { clear } from "./alarms.ts";
import { whoseSet } from "./arm-facts.ts";
import { troubleOf } from "./board.ts";
import { askCalibration, carryProcedure } from "./calibrating.ts";
import { type Ask, instant, type Now, type StationEffect } from "./exchange.ts";
import { feedEvent } from "./feed.ts";
import { PUTTING_IN_FORCE } from "./readiness.ts";
import { busySelfTest } from "./self-test-state.ts";
import { askSelfTest } from "./self-testing.ts";
import { andThen, only, openProcedure, phaseOf, type Station, type Step, withDesk } from "./state.ts";
import { tellZero } from "./zeroing.ts";

export function onAsk(station: Station, ask: Ask, now: Now): Step {
  const { verb } = ask.request;
  const { self_test } = station;
  if (self_test !== null && (verb === "zero" || verb.startsWith("calibration-"))) {
    return answer(station, ask, { ok: false, error: busySelfTest(self_test) });
  }
  switch (ask.request.verb) {
    case "end":
      return end(station, ask, ask.request.args.because ?? null, now);
    case "zero":
      return zero(station, ask, ask.request.args.confirm ?? false, now);
    case "resting":
      return resting(station, ask, now);
    case "inspected":
      return andThen(inspected(station, ask), (next) => tellZero(next, { kind: "inspected" }, now));
    case "self-test":
      return askSelfTest(station, ask, now);
    case "begin":
    case "calibration-accept":
    case "calibration-use":
      // They come with what they need from outside, as inputs of their own.
      return only(station);
    default:
      return askCalibration(station, ask, now);
  }
}

const answer = (station: Station, ask: Ask, outcome: Outcome): Step => ({
  station,
  effects: [{ do: "answer", request_id: ask.request_id, outcome }],
});

type EndReason = Extract<Ask["request"], { verb: "end" }>["args"]["because"];

function end(station: Station, ask: Ask, because: EndReason | null, now: Now): Step {
  const { set } = station;
  if (set === null) {
    return answer(station, ask, refused("bad-request", "No set is set up or running here.", "Nothing needs ending."));
  }
  const { set_id } = set.path.facts;
  const event = { kind: "end", at_us: station.sensor.at_us, because: because ?? null } as const;
  return andThen(feedEvent(station, event, now), (next) => {
    const over = next.desk.finished?.path.facts.set_id === set_id ? next.desk.finished : null;
    return answer(next, ask, done({ set_id, is_set: over !== null, stop_reason: over?.stop_reason ?? null }));
  });
}

function zero(station: Station, ask: Ask, confirm: boolean, now: Now): Step {
  const procedure = openProcedure(station);
  if (procedure !== null) return answer(station, ask, { ok: false, error: busyCalibrating(procedure) });
  if (station.set !== null) {
    const who = whoseSet(station.set.path.facts);
    return answer(station, ask, refused("busy", `A set of ${who} is set up or running.`, "Zero with nobody on it."));
  }
  if (station.desk.putting_in_force) return answer(station, ask, { ok: false, error: PUTTING_IN_FORCE });
  const { sensor } = station;
  const fault = troubleOf(station);
  if (fault !== null) return answer(station, ask, refused("sensor-fault", fault));
  if (sensor.zero === null || sensor.scale === null || sensor.scale.mismatch !== null) {
    const why = sensor.scale?.mismatch ?? "No calibration is in force here.";
    return answer(station, ask, refused("no-calibration", why, "Calibrate first: a zero belongs to a calibration."));
  }
  return tellZero(station, { kind: "zero", request: ask.request_id, confirm, performed_by: ask.by }, now);
}

function resting(station: Station, ask: Ask, now: Now): Step {
  const { set } = station;
  if (set === null || phaseOf(station) !== "armed") {
    const why = "The resting force is taken while a set is armed, before the first effort.";
    return answer(station, ask, refused("bad-request", why, "Begin a set, have the trainee relax, then ask."));
  }
  if (set.resting_request !== null) {
    return answer(station, ask, refused("busy", "The resting force is being taken.", "Wait for its answer."));
  }
  const waiting: Station = { ...station, set: { ...set, resting_request: ask.request_id } };
  return feedEvent(waiting, { kind: "resting", at_us: station.sensor.at_us }, now);
}

function inspected(station: Station, ask: Ask): Step {
  const alarms = clear(clear(clear(station.desk.alarms, "inspect", true), "overload"), "zero-moved", true);
  const was = alarms !== station.desk.alarms;
  const effects: StationEffect[] = [
    { do: "save-inspect", latched: null },
    { do: "answer", request_id: ask.request_id, outcome: done({ cleared: was }) },
    { do: "log", level: "info", text: `Inspected, says ${ask.by ?? "somebody unnamed"}.` },
  ];
  return { station: withDesk(station, { alarms }), effects };
}

/** An accepted calibration, with the id its record would have. */
export function onAccept(station: Station, ask: Ask, calibration_id: string, now: Now): Step {
  if (ask.request.verb !== "calibration-accept") return only(station);
  const { note, due } = ask.request.args;
  const accept = {
    kind: "accept",
    request: ask.request_id,
    note: note ?? null,
    due: due === undefined ? null : new Date(Date.parse(due)).toISOString(),
    calibration_id,
    at: instant(now),
    clock_synced: now.clock_synced,
  } as const;
  return carryProcedure(station, stepProcedure(station.procedure, accept));
}
