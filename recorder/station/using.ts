/**
 * Going back to a record that is kept: the station is at rest, the store puts it in force, and only then it comes here, as
 * `calibration`. Its zero begins as it was calibrated: one found since was found by another record.
 */
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import type { CalibrationRecord } from "../../calibration/record.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import { mismatchOf } from "./board.ts";
import { carryProcedure } from "./calibrating.ts";
import { forgetDue, watchDue } from "./calibration-due.ts";
import { type Ask, instant, type Now } from "./exchange.ts";
import { takenAlready } from "./readiness.ts";
import { andThen, only, type Station, type Step, withDesk } from "./state.ts";

/** `record` null: the station has no such one. */
export function onUse(station: Station, ask: Ask, record: CalibrationRecord | null, now: Now): Step {
  if (ask.request.verb !== "calibration-use") return only(station);
  const { request_id } = ask;
  const { calibration_id } = ask.request.args;
  const answer = (outcome: Outcome): Step => ({ station, effects: [{ do: "answer", request_id, outcome }] });
  if (record === null) {
    const message = `No calibration record ${calibration_id} of ${station.configuration.id} is kept here.`;
    return answer(refused("out-of-range", message, "`calibrations` lists those that are."));
  }
  const taken = takenAlready(station);
  if (taken !== null) return answer({ ok: false, error: taken });
  const formerly = station.sensor.scale?.record.calibration_id ?? null;
  const mismatch = mismatchOf(record, station);
  const warnings = mismatch === null ? [] : [mismatch];
  const result = { calibration_id, formerly, changed: formerly !== calibration_id, warnings };
  if (!result.changed) return answer(done(result));
  const hint = "Zero with nothing and nobody on the machine: the zero is the one of the day this record was taken.";
  return {
    station: withDesk(station, { putting_in_force: true }),
    effects: [
      {
        do: "use-calibration",
        use: { calibration_id, at: instant(now), performed_by: ask.by },
        request_id,
        outcome: done({ ...result, zero: "calibrated", hint }),
      },
    ],
  };
}

/** An accepted check is kept: its procedure is over, and the day the record is due may be a later one. */
export function onCheckKept(station: Station, due: string | null | undefined, now: Now): Step {
  const over = carryProcedure(station, stepProcedure(station.procedure, { kind: "stored", ok: true }));
  return andThen(over, (next) => {
    const { scale } = next.sensor;
    if (scale === null || due === undefined || due === scale.due) return only(next);
    const checked = { ...next, sensor: { ...next.sensor, scale: { ...scale, due } } };
    return only(watchDue(forgetDue(checked), now));
  });
}
