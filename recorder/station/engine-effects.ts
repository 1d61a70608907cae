/** What the engine wants done, carried over into lamps, messages, answers and the store. */
import { done, refused } from "../../protocol/requests/response.ts";
import type { LampInput } from "../../protocol/serial-line/lamps.ts";
import { forceOut } from "../../protocol/units.ts";
import type { EngineEffect, SetResult } from "../set-engine/effects.ts";
import { watchAfterSet } from "./after-set.ts";
import type { Now, StationEffect } from "./exchange.ts";
import { showLamp } from "./host.ts";
import { wholeLog } from "./set-log.ts";
import { effortOut, instantOf } from "./set-message.ts";
import { andThen, only, type RunningSet, type Station, type Step, withDesk } from "./state.ts";

/** How long a finished set stays on show. */
const FINISHED_MS = 120_000;

/** Carries out what a step of the running set asked for. The set in the station is the one after that step. */
export function carryEngine(station: Station, effects: readonly EngineEffect[], now: Now): Step {
  return effects.reduce<Step>((step, effect) => andThen(step, (next) => carry(next, effect, now)), only(station));
}

function carry(station: Station, effect: EngineEffect, now: Now): Step {
  const { set } = station;
  if (set === null) return only(station);
  const lamp = (input: LampInput): Step => showLamp(station, input, now.ms);
  switch (effect.do) {
    case "phase":
      return effect.phase === "armed" ? lamp({ kind: "lamp-1", to: "on" }) : only(station);
    case "effort": {
      const { set_id } = set.path.facts;
      const body = { set_id, ...effortOut(effect.effort, effect.onset_us) };
      return { station, effects: [{ do: "publish", topic: "effort", body }] };
    }
    case "nearing":
      return lamp({ kind: "lamp-1", to: effect.on ? "blink" : "on" });
    case "rest-half":
      return lamp({ kind: "play", pattern: "rest-half", now_ms: now.ms });
    case "sudden-loss":
      return lamp({ kind: "play", pattern: "warning", now_ms: now.ms });
    case "ceiling":
      return effect.above ? lamp({ kind: "play", pattern: "warning", now_ms: now.ms }) : only(station);
    case "resting-taken":
      return answerResting(station, set, done({ resting_force_N: forceOut(effect.force_N) }));
    case "resting-refused":
      return andThen(answerResting(station, set, refused(effect.code, effect.message)), (next) =>
        showLamp(next, { kind: "play", pattern: "refused", now_ms: now.ms }, now.ms),
      );
    case "false-start":
      return { station, effects: [{ do: "log", level: "info", text: "It was a false start: armed again." }] };
    case "disarmed":
      return disarm(station, set, effect.because, now);
    case "over":
      return finish(station, set, effect.result, now);
  }
}

function answerResting(station: Station, set: RunningSet, outcome: ReturnType<typeof done>): Step {
  if (set.resting_request === null) return only(station);
  const answer: StationEffect = { do: "answer", request_id: set.resting_request, outcome };
  return { station: { ...station, set: { ...set, resting_request: null } }, effects: [answer] };
}

const EXPIRED = refused("expired", "The set was disarmed before its resting force was taken.");

type Disarmed = Extract<EngineEffect, { do: "disarmed" }>["because"];

const DISARMED: Readonly<Record<Disarmed, string>> = {
  "time-out": "no effort came in time",
  "on-request": "somebody asked for it",
  "sensor-fault": "the sensor failed",
  overload: "the force went over what the load path is made for",
  interrupted: "the recorder was stopped",
};

function disarm(station: Station, set: RunningSet, because: Disarmed, now: Now): Step {
  const { set_id } = set.path.facts;
  const gone: Step = andThen(answerResting(station, set, EXPIRED), (next) => ({
    station: { ...next, set: null },
    effects: [
      { do: "forget", set_id },
      { do: "log", level: "info", text: `Disarmed, since ${DISARMED[because]}: it came to no set.` },
    ],
  }));
  const dark = andThen(gone, (next) => showLamp(next, { kind: "lamp-1", to: "off" }, now.ms));
  if (because === "on-request") return dark;
  return andThen(dark, (next) => showLamp(next, { kind: "play", pattern: "other-end", now_ms: now.ms }, now.ms));
}

function finish(station: Station, set: RunningSet, result: SetResult, now: Now): Step {
  const pattern = result.reached_threshold ? "stop" : "other-end";
  const signalled = andThen(showLamp(station, { kind: "play", pattern, now_ms: now.ms }, now.ms), (next) =>
    showLamp(next, { kind: "lamp-1", to: "off" }, now.ms),
  );
  return andThen(signalled, (next) => ({
    station: withDesk(
      { ...next, set: null, sensor: watchAfterSet(next.sensor, set.path.facts) },
      {
        finished: {
          path: set.path,
          comparable: set.comparable,
          stop_reason: result.stop_reason,
          until_ms: now.ms + FINISHED_MS,
        },
        last_ended_at: instantOf(set.path.facts, result.decided_us),
        last_end_us: next.sensor.at_us,
      },
    ),
    effects: [
      { do: "keep", path: set.path, result, log: wholeLog(set.log) },
      { do: "log", level: "info", text: `Set ${set.path.facts.set_id} is over: ${result.stop_reason}.` },
    ],
  }));
}
