/** Arms a set: refused while anything speaks against it, else resolved and on its way. */
import { zeroInUse_counts } from "../../calibration/zero/zero.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { HistoryQuery } from "../ports.ts";
import { type ArmFacts, whoseSet } from "./arm-facts.ts";
import { isWarmingUp } from "./bodies.ts";
import { instant, type Now, type StationEffect, type StationInput } from "./exchange.ts";
import { showLamp } from "./host.ts";
import type { Planned } from "./planned.ts";
import { beginAnswered } from "./presented.ts";
import { obstaclesTo, sensorFacts } from "./readiness.ts";
import { resolve } from "./resolve.ts";
import { beginLog } from "./set-log.ts";
import { instantOf } from "./set-message.ts";
import { beginPath } from "./set-path.ts";
import { setupText } from "./setup-notes.ts";
import { andThen, phaseOf, type Station, type Step, withDesk } from "./state.ts";

/** What the record must be asked before a begin can be resolved. */
export function historyQuery(
  station: Station,
  { args, setup }: Pick<Planned, "args" | "setup">,
  day_starts_at: string,
  now: Now,
): HistoryQuery {
  const { configuration } = station;
  return {
    station: configuration.id,
    trainee: args.trainee ?? null,
    exercise: args.exercise ?? configuration.exercise,
    side: args.side ?? null,
    style: args.style ?? configuration.style,
    intent: args.intent ?? "maximal",
    setup: setupText(setup ?? {}),
    resting_subtracted: configuration.subtract_resting,
    day_starts_at,
    now: instant(now),
  };
}

export function onBegin(station: Station, input: Extract<StationInput, { kind: "begin" }>, now: Now): Step {
  const { ask, history, set_id } = input;
  const setup_notes = input.setup ?? {};
  const answer = (outcome: Outcome): StationEffect => ({ do: "answer", request_id: ask.request_id, outcome });
  if (ask.request.verb !== "begin") return { station, effects: [] };
  const { args } = ask.request;
  const why = cannotBegin(station);
  if (why !== null) return { station, effects: [answer(why)] };
  const { scale, zero } = station.sensor;
  const facts = sensorFacts(station);
  if (scale === null || zero === null || facts === null) throw new Error("a sensor that is not ready was let through");
  const made = resolve(args, station.configuration, facts, history);
  if (!made.ok) return { station, effects: [answer(made)] };
  const { setup, exercise, warnings } = made.resolved;

  const { configuration, sensor } = station;
  const arm: ArmFacts = {
    arm_version: 1,
    set_id,
    station: configuration.id,
    exercise,
    exercise_label: exercise === configuration.exercise ? (configuration.exercise_label ?? exercise) : exercise,
    trainee: args.trainee ?? null,
    side: args.side ?? null,
    warm_up: args.warm_up ?? false,
    performed_by: ask.by,
    set_of_day: history.set_of_day,
    last_set_ended_at: history.last_set_ended_at,
    setup_notes,
    setup,
    at_us: sensor.at_us,
    wall_ms: now.wall_ms,
    clock_synced: now.clock_synced,
    simulated: station.simulated,
    calibration: scale.record,
    zero_counts: zeroInUse_counts(zero, scale.zero_facts),
    warming_up: isWarmingUp(station),
    before_counts: [sensor.before2, sensor.before1].filter((counts) => !Number.isNaN(counts)),
  };
  const replaced = station.set;
  const told = [...warnings];
  if (replaced !== null)
    told.push(`${replaced.path.facts.trainee ?? "Somebody unnamed"} was set up here and is not any more.`);
  if (sensor.force_N !== null && sensor.force_N >= setup.options.onset_force_N) {
    told.push(
      `There are ${Math.round(sensor.force_N)} N on the machine: let go first, the set begins with the next effort.`,
    );
  }
  // A refused one comes back to the machine, and is answered then.
  const asked = ask.door === "key" ? beginAnswered(station) : station;
  const armed: Station = withDesk(
    {
      ...asked,
      set: { path: beginPath(arm), log: beginLog(arm), comparable: history.comparable, resting_request: null },
    },
    { finished: null, last_named: { trainee: args.trainee ?? null, at_us: sensor.at_us } },
  );
  const { style, intent, fatigue_threshold, options } = setup;
  const result = {
    set_id,
    station: configuration.id,
    trainee: arm.trainee,
    side: arm.side,
    exercise,
    exercise_label: arm.exercise_label,
    style,
    intent,
    fatigue_threshold,
    warm_up: arm.warm_up,
    options,
    setup: setup_notes,
    planned: input.setup !== undefined,
    calibration_id: scale.record.calibration_id,
    warnings: told,
  };
  const effects: StationEffect[] = [];
  if (replaced !== null) {
    // Still armed, so nothing is lost but whoever waits for its resting force.
    effects.push({ do: "forget", set_id: replaced.path.facts.set_id });
    if (replaced.resting_request !== null) {
      effects.push({ do: "answer", request_id: replaced.resting_request, outcome: ANOTHER_SET });
    }
  }
  return andThen({ station: armed, effects: [...effects, answer(done(result))] }, (next) =>
    showLamp(next, { kind: "lamp-1", to: "on" }, now.ms),
  );
}

const ANOTHER_SET = refused("expired", "Another set was set up before the resting force was taken.");

function cannotBegin(station: Station): Outcome | null {
  const { set } = station;
  if (set !== null && phaseOf(station) !== "armed") {
    const { facts } = set.path;
    const who = whoseSet(facts);
    const since = instantOf(facts, facts.at_us);
    return refused(
      "busy",
      `${who} is in a set at ${facts.station} since ${since}.`,
      "End it first, or wait for its end.",
    );
  }
  const [first] = obstaclesTo(station);
  return first === undefined ? null : { ok: false, error: first };
}
