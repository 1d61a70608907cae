/** Every state meets every input, and no step writes to what it was given. */
import { describe, expect, it } from "vitest";
import { step } from "../../../recorder/set-engine/engine.ts";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import type { EngineState } from "../../../recorder/set-engine/state.ts";
import { enginePhase, viewOf } from "../../../recorder/set-engine/view.ts";
import { corners, plateaus, readingsOf, run, setupOf } from "./run.ts";

const AT_US = 7_000_000;

function frozen<T>(value: T): T {
  if (typeof value === "object" && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const part of Object.values(value)) frozen(part);
  }
  return value;
}

const effortsOf = (lasts_s: number, changes: Parameters<typeof setupOf>[0] = {}): EngineState =>
  run(
    setupOf({ style: "continuous", ...changes }),
    readingsOf({
      force: plateaus([
        [1, 2, 800],
        [4, 2.5, 800],
      ]),
      lasts_s,
    }),
  ).state;
const holdOf = (lasts_s: number): EngineState =>
  run(setupOf({}), readingsOf({ force: corners([1, 0], [1.1, 800], [60, 800]), lasts_s })).state;

/** States by name, each a little before `AT_US` so that any input is next in time. */
const STATES: Readonly<Record<string, EngineState>> = {
  "armed, no reading yet": run(setupOf({}), []).state,
  "armed, at rest": run(setupOf({}), readingsOf({ force: () => 0, lasts_s: 6.99 })).state,
  "armed, taking the resting force": run(setupOf({}), [
    ...readingsOf({ force: () => 40, lasts_s: 6.5 }),
    { kind: "resting", at_us: 6_500_000 },
  ]).state,
  "holding, without a best": run(setupOf({}), readingsOf({ force: corners([6, 0], [6.1, 800]), lasts_s: 6.99 })).state,
  "holding, with a best": holdOf(6.99),
  "first effort": run(
    setupOf({ style: "rest-pause" }),
    readingsOf({ force: corners([6, 0], [6.1, 800]), lasts_s: 6.99 }),
  ).state,
  "in an effort": effortsOf(6.2),
  "between efforts": effortsOf(6.99),
  "between halves": effortsOf(6.99, { peaks_per_repetition: 2 }),
  disarmed: { is: "disarmed" },
  over: run(setupOf({}), [
    ...readingsOf({ force: corners([1, 0], [1.1, 800], [60, 800]), lasts_s: 6 }),
    { kind: "end", at_us: 6_000_000, because: null },
  ]).state,
};

const INPUTS: Readonly<Record<string, EngineInput>> = {
  reading: { kind: "reading", at_us: AT_US, force_N: 800, muscle_action: null },
  "reading at nothing": { kind: "reading", at_us: AT_US, force_N: 0, muscle_action: "eccentric" },
  end: { kind: "end", at_us: AT_US, because: "done" },
  resting: { kind: "resting", at_us: AT_US },
  overload: { kind: "fault", at_us: AT_US, fault: "overload" },
  "sensor-fault": { kind: "fault", at_us: AT_US, fault: "sensor-fault" },
  silence: { kind: "silence", at_us: AT_US },
  interrupted: { kind: "interrupted", at_us: AT_US },
};

/** What each pair comes to: the state after it and, behind it, what was told. */
const TABLE: Readonly<Record<string, Readonly<Record<keyof typeof INPUTS, string>>>> = {
  "armed, no reading yet": {
    reading: "armed",
    "reading at nothing": "armed",
    end: "disarmed: on-request",
    resting: "armed",
    overload: "disarmed: overload",
    "sensor-fault": "disarmed: sensor-fault",
    silence: "disarmed: sensor-fault",
    interrupted: "disarmed: interrupted",
  },
  "armed, at rest": {
    reading: "holding: working",
    "reading at nothing": "armed",
    end: "disarmed: on-request",
    resting: "armed",
    overload: "disarmed: overload",
    "sensor-fault": "disarmed: sensor-fault",
    silence: "disarmed: sensor-fault",
    interrupted: "disarmed: interrupted",
  },
  "armed, taking the resting force": {
    reading: "armed",
    "reading at nothing": "armed",
    end: "disarmed: on-request",
    resting: "armed",
    overload: "disarmed: overload",
    "sensor-fault": "disarmed: sensor-fault",
    silence: "disarmed: sensor-fault",
    interrupted: "disarmed: interrupted",
  },
  "holding, without a best": {
    reading: "holding",
    "reading at nothing": "holding",
    end: "disarmed: on-request",
    resting: "holding",
    overload: "disarmed: overload",
    "sensor-fault": "disarmed: sensor-fault",
    silence: "disarmed: sensor-fault",
    interrupted: "disarmed: interrupted",
  },
  "holding, with a best": {
    reading: "holding",
    "reading at nothing": "holding: sudden-loss",
    end: "over: on-request",
    resting: "holding",
    overload: "over: overload",
    "sensor-fault": "over: sensor-fault",
    silence: "over: sensor-fault",
    interrupted: "over: interrupted",
  },
  "first effort": {
    reading: "exerting",
    "reading at nothing": "exerting: effort, resting",
    end: "over: effort, on-request",
    resting: "exerting",
    overload: "over: effort, overload",
    "sensor-fault": "over: effort, sensor-fault",
    silence: "over: effort, sensor-fault",
    interrupted: "over: effort, interrupted",
  },
  "in an effort": {
    reading: "exerting",
    "reading at nothing": "exerting: effort, resting",
    end: "over: effort, on-request",
    resting: "exerting",
    overload: "over: effort, overload",
    "sensor-fault": "over: effort, sensor-fault",
    silence: "over: effort, sensor-fault",
    interrupted: "over: effort, interrupted",
  },
  "between efforts": {
    reading: "exerting: working",
    "reading at nothing": "exerting",
    end: "over: on-request",
    resting: "exerting",
    overload: "over: overload",
    "sensor-fault": "over: sensor-fault",
    silence: "over: sensor-fault",
    interrupted: "over: interrupted",
  },
  "between halves": {
    reading: "exerting: working",
    "reading at nothing": "exerting",
    end: "over: on-request",
    resting: "exerting",
    overload: "over: overload",
    "sensor-fault": "over: sensor-fault",
    silence: "over: sensor-fault",
    interrupted: "over: interrupted",
  },
  disarmed: {
    reading: "disarmed",
    "reading at nothing": "disarmed",
    end: "disarmed",
    resting: "disarmed",
    overload: "disarmed",
    "sensor-fault": "disarmed",
    silence: "disarmed",
    interrupted: "disarmed",
  },
  over: {
    reading: "over",
    "reading at nothing": "over",
    end: "over",
    resting: "over",
    overload: "over",
    "sensor-fault": "over",
    silence: "over",
    interrupted: "over",
  },
};

describe("every state and every input", () => {
  const pairs = Object.keys(STATES).flatMap((state) => Object.keys(INPUTS).map((input) => [state, input] as const));
  it.each(pairs)("%s + %s", (stateName, inputName) => {
    const next = step(STATES[stateName] as EngineState, INPUTS[inputName] as EngineInput);
    const told = next.effects.map((effect) => {
      if (effect.do === "phase") return effect.phase;
      if (effect.do === "disarmed") return effect.because;
      return effect.do === "over" ? effect.result.stop_reason : effect.do;
    });
    expect([next.state.is, told.join(", ")].filter((part) => part !== "").join(": ")).toBe(
      TABLE[stateName]?.[inputName],
    );
  });

  it.each(Object.keys(STATES))("%s: what does nothing gives back the same state", (name) => {
    const state = STATES[name] as EngineState;
    for (const [inputName, input] of Object.entries(INPUTS)) {
      if (state.is === "over" || state.is === "disarmed" || (input.kind === "resting" && state.is !== "armed")) {
        expect(step(state, input).state, inputName).toBe(state);
      }
    }
  });
});

describe("what can be seen of each state", () => {
  it.each([
    ["armed, at rest", { phase: "armed", best_N: null, effort_number: 0 }],
    [
      "holding, without a best",
      { phase: "working", best_N: null, floor_N: null, below_floor_s: null, effort_number: 1 },
    ],
    ["holding, with a best", { phase: "working", effort_number: 1, below_floor_s: 0 }],
    ["first effort", { phase: "working", effort_number: 1, best_N: null }],
    ["in an effort", { phase: "working", effort_number: 2 }],
    ["between efforts", { phase: "resting", effort_number: 2 }],
    ["disarmed", { phase: null, elapsed_s: null }],
    ["over", { phase: null, effort_number: 1, reserve: null }],
  ])("%s", (name, seen) => {
    const state = STATES[name] as EngineState;
    expect(viewOf(state)).toMatchObject(seen);
    expect(enginePhase(state)).toBe(seen.phase);
  });
});

describe("a step", () => {
  const inputs: readonly EngineInput[] = [
    ...readingsOf({
      force: plateaus([
        [1, 2, 800],
        [4, 2, 820],
        [7, 0.1, 500],
        [8, 2, 700],
        [11, 2, 300],
      ]),
      lasts_s: 16,
      noise_N: 2,
    }),
  ];

  it.each(["hold", "continuous", "eccentric-only", "rest-pause"] as const)(
    "never writes to its state or input: %s",
    (style) => {
      let state: EngineState = frozen(run(setupOf({ style }), []).state);
      const kept: { state: EngineState; input: EngineInput; next: ReturnType<typeof step> }[] = [];
      for (const [index, input] of inputs.entries()) {
        const next = step(state, frozen(input));
        if (index % 16 === 0) kept.push({ state, input, next });
        state = index % 4 === 0 ? frozen(next.state) : next.state;
      }
      // Any state that was kept can be stepped again, to the same answer, whatever came after it.
      for (const old of kept.reverse()) expect(step(old.state, old.input)).toEqual(old.next);
    },
  );
});
