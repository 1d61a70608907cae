/**
 * A simulated trainee: works when lamp 1 says so, tires as the muscle model says, lets go when lamp 2 comes on.
 *
 * Pure: `stepTrainee` is a reducer over time; its noise comes from a seed and the number of the step. Force in N at the
 * handle, positive when the trainee works against the machine. Lamp 1 going out is taken for the end of the set as well.
 */
import type { LampState } from "../../protocol/serial-line/lines.ts";
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import { type Compartments, type FatigueParameters, FRESH, tire } from "./fatigue.ts";
import type { Stroke } from "./program.ts";
import { normalAt, seedFor, uniformAt } from "./random.ts";

export interface Trainee {
  /** A code, never a name. */
  readonly code: string;
  /** The most a fresh trainee can put on the handle. Lengthening muscle is the stronger one. */
  readonly strength_N: Readonly<Record<MuscleAction, number>>;
  readonly muscle: FatigueParameters;
  /** One round of what the trainee does in a set (program.ts). */
  readonly strokes: readonly Stroke[];
  /** 1: as hard as possible; below: a part of the fresh maximum, held as long as it lasts. */
  readonly level: number;
  /** From nothing to all at the start of a stroke. */
  readonly ramp_s: number;
  /** From lamp 1 to the first effort; drawn anew for each set. */
  readonly starts_after_s: readonly [shortest: number, longest: number];
  /** From lamp 2 to letting go. */
  readonly reaction_s: number;
  /** Gives up after this long without a stop. */
  readonly lasts_at_most_s: number;
  /** How much less than everything a stroke may be: standard deviation, as a fraction. */
  readonly slack: number;
  /** Slow wavering of the force while working: standard deviation, as a fraction of it. */
  readonly wavering: number;
  /** Amplitude of the tremor, as a fraction of the force. */
  readonly tremor: number;
  /** What the relaxed limb puts on the sensor. */
  readonly resting_force_N: number;
}

export interface Lamps {
  readonly 1: LampState;
  readonly 2: LampState;
}

export interface TraineeState {
  /** called: the stop is there, and not yet taken in. done: will not push again before lamp 1 went out. */
  readonly doing: "seated" | "getting-ready" | "working" | "called" | "done";
  /** In `doing`. */
  readonly for_s: number;
  readonly stroke: number;
  /** Since the stroke began. */
  readonly stroke_s: number;
  /** Wanted load, 0..1 of the fresh maximum, after ramp and slack. */
  readonly drive: number;
  /** Follows the strength of the muscle action of the stroke. */
  readonly strength_N: number;
  readonly compartments: Compartments;
  readonly wavering: number;
  readonly steps: number;
  readonly sets: number;
  readonly lamp2: LampState;
}

/** Physiological tremor lies at about 8..12 Hz; force wavers over tenths of a second [both from memory]. */
const TREMOR_HZ = 9.3;
const WAVERING_S = 0.2;
/** Crossing from one muscle action's strength to the other's takes a moment, not a step. */
const CHANGE_OVER_S = 0.1;
const LETTING_GO_S = 0.25;

export function sitDown(trainee: Trainee, compartments: Compartments = FRESH): TraineeState {
  return {
    doing: "seated",
    for_s: 0,
    stroke: 0,
    stroke_s: 0,
    drive: 0,
    strength_N: trainee.strength_N[strokeAt(trainee, 0).muscle_action ?? "concentric"],
    compartments,
    wavering: 0,
    steps: 0,
    sets: 0,
    lamp2: "off",
  };
}

/** The trainee `elapsed_s` later, having seen the lamps. */
export function stepTrainee(
  trainee: Trainee,
  before: TraineeState,
  elapsed_s: number,
  lamps: Lamps,
  seed: number,
): TraineeState {
  const now = decided(trainee, { ...before, for_s: before.for_s + elapsed_s }, lamps, seed);
  const pushing = now.doing === "working" || now.doing === "called";
  let { stroke, stroke_s } = now;
  if (pushing) {
    stroke_s = now.stroke_s + elapsed_s;
    while (stroke_s >= strokeAt(trainee, stroke).lasts_s) {
      stroke_s -= strokeAt(trainee, stroke).lasts_s;
      stroke += 1;
    }
  }
  const current = strokeAt(trainee, stroke);
  const wanted =
    !pushing || current.effort === 0
      ? 0
      : current.effort * trainee.level * (1 - Math.abs(trainee.slack * normalAt(seedFor(seed, "slack"), stroke)));
  const drive = towards(now.drive, wanted, elapsed_s / (wanted > now.drive ? trainee.ramp_s : LETTING_GO_S));
  const strength_N =
    current.muscle_action === null
      ? now.strength_N
      : trainee.strength_N[current.muscle_action] +
        (now.strength_N - trainee.strength_N[current.muscle_action]) * Math.exp(-elapsed_s / CHANGE_OVER_S);
  const kept = Math.exp(-elapsed_s / WAVERING_S);
  return {
    ...now,
    stroke,
    stroke_s,
    drive,
    strength_N,
    compartments: tire(now.compartments, drive, elapsed_s, trainee.muscle),
    wavering: now.wavering * kept + trainee.wavering * Math.sqrt(1 - kept * kept) * normalAt(seed, now.steps),
    steps: now.steps + 1,
  };
}

/** What the trainee puts on the handle now, N. */
export function handleForce(trainee: Trainee, state: TraineeState, at_s: number): number {
  const unsteady = 1 + state.wavering + trainee.tremor * Math.sin(2 * Math.PI * TREMOR_HZ * at_s);
  return state.compartments.active * state.strength_N * unsteady + trainee.resting_force_N;
}

/** Which way the machine moves; null while nobody works. */
export function muscleActionOf(trainee: Trainee, state: TraineeState): MuscleAction | null {
  return state.doing === "working" || state.doing === "called" ? strokeAt(trainee, state.stroke).muscle_action : null;
}

/** What the lamps and the clock make the trainee do next. */
function decided(trainee: Trainee, now: TraineeState, lamps: Lamps, seed: number): TraineeState {
  const called = lamps[2] === "on" && now.lamp2 !== "on";
  const seen: TraineeState = { ...now, lamp2: lamps[2] };
  const doing = (next: TraineeState["doing"]): TraineeState => ({ ...seen, doing: next, for_s: 0 });
  switch (seen.doing) {
    case "seated":
      return lamps[1] === "on" ? doing("getting-ready") : seen;
    case "getting-ready": {
      if (lamps[1] === "off") return doing("seated");
      const [shortest, longest] = trainee.starts_after_s;
      const start_s = shortest + (longest - shortest) * uniformAt(seedFor(seed, "start"), seen.sets);
      if (seen.for_s < start_s) return seen;
      // A new round of slack for each set: strokes are numbered on, never again from 0, in whole rounds.
      const round = trainee.strokes.length;
      const stroke = seen.sets === 0 ? 0 : Math.ceil((seen.stroke + 1) / round) * round;
      return { ...doing("working"), stroke, stroke_s: 0, sets: seen.sets + 1 };
    }
    case "working":
      if (seen.for_s > trainee.lasts_at_most_s) return doing("done");
      return called || lamps[1] === "off" ? doing("called") : seen;
    case "called":
      return seen.for_s >= trainee.reaction_s ? doing("done") : seen;
    case "done":
      return lamps[1] === "off" ? doing("seated") : seen;
  }
}

function strokeAt(trainee: Trainee, index: number): Stroke {
  return trainee.strokes[index % trainee.strokes.length]!;
}

function towards(from: number, to: number, step: number): number {
  return from < to ? Math.min(to, from + step) : Math.max(to, from - step);
}
