/** No force for now, whatever the reason: whatever runs on readings, or waits for them, is told. */
import { stepProcedure } from "../../calibration/procedure/procedure.ts";
import { withCause } from "./board.ts";
import { carryProcedure } from "./calibrating.ts";
import type { Now } from "./exchange.ts";
import { feedEvent } from "./feed.ts";
import type { LogEvent } from "./set-log.ts";
import { andThen, type Causes, type Station, type Step } from "./state.ts";
import { tellZero } from "./zeroing.ts";

/** `event` is what a running set is told; `detail`, one sentence, whoever waits for a zero or a calibration point. */
export function loseForce(station: Station, change: Partial<Causes>, event: LogEvent, detail: string, now: Now): Step {
  const dark = withCause({ ...station, sensor: { ...station.sensor, force_N: null } }, change, now);
  const stopped = feedEvent(dark, event, now);
  const dropped = andThen(stopped, (next) => tellZero(next, { kind: "interrupted", detail }, now));
  return andThen(dropped, (next) => carryProcedure(next, stepProcedure(next.procedure, { kind: "fault", detail })));
}
