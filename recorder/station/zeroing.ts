/** The zero of a station: what it asks for, carried out. */
import { stepZero, type ZeroInput } from "../../calibration/zero/zero.ts";
import type { ZeroEffect } from "../../calibration/zero/zero-shift.ts";
import { clear, raise } from "./alarms.ts";
import { instant, type Now } from "./exchange.ts";
import { andThen, only, type Station, type Step, withDesk } from "./state.ts";

/** Tells the zero in use, where there is one. */
export function tellZero(station: Station, input: ZeroInput, now: Now): Step {
  const { zero, scale } = station.sensor;
  if (zero === null || scale === null) return only(station);
  const { state, effects } = stepZero(zero, input, scale.zero_facts);
  const told: Station = { ...station, sensor: { ...station.sensor, zero: state } };
  return effects.reduce<Step>((step, effect) => andThen(step, (next) => onZero(next, effect, now)), only(told));
}

export function onZero(station: Station, effect: ZeroEffect, now: Now): Step {
  switch (effect.do) {
    case "save-zero": {
      const { zero, cause, performed_by } = effect;
      return { station, effects: [{ do: "save-zero", zero: { ...zero, at: instant(now), cause, performed_by } }] };
    }
    case "answer":
      return { station, effects: [{ do: "answer", request_id: effect.request, outcome: effect.outcome }] };
    case "alarm":
      return onAlarm(station, effect, now);
  }
}

function onAlarm(station: Station, effect: Extract<ZeroEffect, { do: "alarm" }>, now: Now): Step {
  const { code, on, detail, until_inspected = false } = effect;
  const { alarms } = station.desk;
  const at = instant(now);
  const told = on ? raise(alarms, code, detail, at, until_inspected) : clear(alarms, code, true);
  const next = withDesk(station, { alarms: told });
  const { scale } = station.sensor;
  if (!until_inspected || scale === null) return only(next);
  const since = told.find((alarm) => alarm.code === code)?.since ?? at;
  const { calibration_id } = scale.zero_facts;
  return { station: next, effects: [{ do: "save-zero-moved", moved: on ? { calibration_id, since, detail } : null }] };
}
