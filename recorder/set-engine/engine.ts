/**
 * The set engine: a pure reducer over readings, requests, faults and silence. It works in device time, never in sample
 * counts, so a recording replays as fast as the computer can, to the same result.
 *
 * A pair of state and input with no case below changes nothing and asks for nothing.
 */
import type { EndedBecause, StopReason } from "../../protocol/vocabulary.ts";
import { askResting, readArmed } from "./armed.ts";
import type { EffortReport, EngineEffect, SetResult } from "./effects.ts";
import { endEfforts, readEfforts } from "./efforts.ts";
import { endHold, readHold } from "./hold.ts";
import type { EngineInput, ReadingInput } from "./inputs.ts";
import { levelsOf } from "./levels.ts";
import type { SetSetup } from "./setup.ts";
import { type Armed, type EngineState, type Exerting, type Holding, type Step, stay } from "./state.ts";

/** A set armed at a moment of device time, us. */
export function arm(setup: SetSetup, at_us: number): Armed {
  return {
    is: "armed",
    setup,
    levels: levelsOf(setup, null),
    resting_N: null,
    armed_us: at_us,
    trail: null,
    was_below: false,
    resting_from_us: null,
  };
}

type Unfinished = Armed | Holding | Exerting;

export function step(state: EngineState, input: EngineInput): Step {
  if (state.is === "disarmed" || state.is === "over") return stay(state);
  const stepped = stepUnfinished(state, input);
  return stepped.effects.length === 0 ? stepped : inDeviceTime(stepped, state.armed_us);
}

function stepUnfinished(state: Unfinished, input: EngineInput): Step {
  switch (state.is) {
    case "armed":
      return stepArmed(state, input);
    case "holding":
      if (input.kind === "reading") return readHold(state, input);
      return stopRunning(state, input, (...ending) => endHold(state, ...ending));
    case "exerting":
      if (input.kind === "reading") return readEfforts(state, input);
      return stopRunning(state, input, (...ending) => endEfforts(state, ...ending));
  }
}

function stepArmed(state: Armed, input: EngineInput): Step {
  const disarmed = (because: "on-request" | "sensor-fault" | "overload" | "interrupted"): Step => ({
    state: { is: "disarmed" },
    effects: [{ do: "disarmed", because }],
  });
  switch (input.kind) {
    case "reading":
      return readArmed(state, input);
    case "end":
      return disarmed("on-request");
    case "resting":
      return askResting(state, input.at_us - state.armed_us);
    case "fault":
      return disarmed(input.fault);
    case "silence":
      return disarmed("sensor-fault");
    case "interrupted":
      return disarmed("interrupted");
  }
}

type Ending = (at_us: number, reason: StopReason, because: EndedBecause | null) => Step;

/** Whatever is told to a running set besides readings. Nothing was measured after the last reading. */
function stopRunning(state: Holding | Exerting, input: Exclude<EngineInput, ReadingInput>, end: Ending): Step {
  const last_us = state.trail.newest.at_us;
  switch (input.kind) {
    case "end":
      return end(Math.max(input.at_us - state.armed_us, last_us), "on-request", input.because);
    case "fault":
      return end(last_us, input.fault, null);
    case "silence":
      return end(last_us, "sensor-fault", null);
    case "interrupted":
      return end(last_us, "interrupted", null);
    case "resting":
      // Taken only while armed: nobody can relax under load.
      return stay(state);
  }
}

/** Moments that leave, turned back from us since arming to device time. */
function inDeviceTime({ state, effects }: Step, armed_us: number): Step {
  const told = effects.map((effect): EngineEffect => {
    if (effect.do === "over") return { do: "over", result: resultIn(effect.result, armed_us) };
    if (effect.do !== "effort") return effect;
    return { do: "effort", onset_us: effect.onset_us + armed_us, effort: effortIn(effect.effort, armed_us) };
  });
  return {
    state: state.is === "over" ? { is: "over", result: resultIn(state.result, armed_us) } : state,
    effects: told,
  };
}

const resultIn = (result: SetResult, armed_us: number): SetResult => ({
  ...result,
  onset_us: result.onset_us + armed_us,
  decided_us: result.decided_us + armed_us,
  efforts: result.efforts.map((effort) => effortIn(effort, armed_us)),
});

const effortIn = (effort: EffortReport, armed_us: number): EffortReport => ({
  ...effort,
  start_us: effort.start_us + armed_us,
  end_us: effort.end_us + armed_us,
  peak_us: effort.peak_us + armed_us,
});
