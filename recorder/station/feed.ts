/** Feeds the running set: every reading and event goes into its log and, by the same path, through the engine. */
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import { carryEngine } from "./engine-effects.ts";
import type { Now } from "./exchange.ts";
import { type LogEvent, logEvent, logReading } from "./set-log.ts";
import { pathEvent, pathReading } from "./set-path.ts";
import { NOTHING, only, type Station, type Step } from "./state.ts";

export function feedReading(
  station: Station,
  at_us: number,
  counts: number,
  action: MuscleAction | null,
  now: Now,
): Step {
  const { set } = station;
  if (set === null) return only(station);
  const log = logReading(set.log, at_us, counts, action);
  const { path, effects } = pathReading(set.path, at_us, counts, action);
  const { comparable, resting_request } = set;
  const fed: Station = {
    configuration: station.configuration,
    simulated: station.simulated,
    line: station.line,
    commands: station.commands,
    lamps: station.lamps,
    board: station.board,
    sensor: station.sensor,
    unread: station.unread,
    set: { path, log, comparable, resting_request },
    procedure: station.procedure,
    self_test: station.self_test,
    live: station.live,
    desk: station.desk,
  };
  return effects.length === 0 ? { station: fed, effects: NOTHING } : carryEngine(fed, effects, now);
}

export function feedEvent(station: Station, event: LogEvent, now: Now): Step {
  const { set } = station;
  if (set === null) return only(station);
  const log = logEvent(set.log, event);
  const { path, effects } = pathEvent(set.path, event);
  return carryEngine({ ...station, set: { ...set, path, log } }, effects, now);
}
