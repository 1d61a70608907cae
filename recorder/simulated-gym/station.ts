/**
 * One simulated station: whoever sits there, the rig and the board, moved on from conversion to conversion. Pure.
 *
 * Device time `at_us` is whole microseconds since power-up. Beside the bytes, each step tells the truth: the force that
 * was on the handle and what strength the trainee had left. Nothing of the recorder may depend on it; tests may.
 */
import { SATURATED_HIGH_COUNTS } from "../../protocol/units.ts";
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import { type Board, type BoardInput, type BoardState, lampsShown, newBoard, stepBoard } from "./board.ts";
import { type Compartments, recovered, strengthLeft } from "./fatigue.ts";
import { seedFor, uniformAt } from "./random.ts";
import { convert, type Rig, type RigState, UNLOADED } from "./rig.ts";
import { followSet, type SetTruth } from "./set-truth.ts";
import { handleForce, muscleActionOf, sitDown, stepTrainee, type Trainee, type TraineeState } from "./trainee.ts";

export interface SimulatedStation {
  readonly id: string;
  readonly rig: Rig;
  readonly board: Board;
  /** The amplifier's own oscillator: 0.01 converts 1 % more often than it says. */
  readonly rate_error: number;
  /** A conversion is ready this much earlier or later than its turn. */
  readonly jitter_us: number;
}

export interface StationState {
  /** Of the newest conversion. */
  readonly at_us: number;
  /** How far time has come, at or after the newest conversion. */
  readonly now_us: number;
  /** Where the next conversion belongs in an even row. */
  readonly turn_us: number;
  /** When it will be ready. */
  readonly due_us: number;
  readonly board: BoardState;
  readonly rig: RigState;
  readonly seated: { readonly trainee: Trainee; readonly state: TraineeState } | null;
  /** How tired everyone left, and when. */
  readonly left: Readonly<Record<string, { readonly compartments: Compartments; readonly at_us: number }>>;
  readonly held_keys: readonly { readonly key: number; readonly until_us: number }[];
  /** silent: no conversions come. stuck-high: the input is beyond the amplifier's range. */
  readonly amplifier: "well" | "silent" | "stuck-high";
  readonly complained_at_us: number;
  readonly set: SetTruth | null;
}

export interface Truth {
  readonly at_us: number;
  readonly handle_N: number;
  readonly cell_N: number;
  readonly counts: number;
  readonly muscle_action: MuscleAction | null;
  /** 0..1 of fresh; null: nobody there. */
  readonly strength_left: number | null;
  readonly set: SetTruth | null;
}

export interface StationStep {
  readonly state: StationState;
  readonly out: string;
}

const KEY_HELD_US = 120_000;
const COMPLAINT_EVERY_US = 1_000_000;

/** When the conversion after this state will be ready. */
function following(
  station: SimulatedStation,
  state: StationState,
  seed: number,
): Pick<StationState, "turn_us" | "due_us"> {
  const turn_us = state.turn_us + 1e6 / (state.board.rate * (1 + station.rate_error));
  const jitter_us = station.jitter_us * (2 * uniformAt(seedFor(seed, "jitter"), state.rig.conversions) - 1);
  return { turn_us, due_us: Math.round(turn_us + jitter_us) };
}

/** Power-up: the board says hello, the first conversion is one period away. */
export function powerUp(station: SimulatedStation, seed: number): StationStep {
  const blank: StationState = {
    at_us: 0,
    now_us: 0,
    turn_us: 0,
    due_us: 0,
    board: newBoard(station.board),
    rig: UNLOADED,
    seated: null,
    left: {},
    held_keys: [],
    amplifier: "well",
    complained_at_us: Number.NEGATIVE_INFINITY,
    set: null,
  };
  return restart(station, blank, "power-up", seed);
}

/** The board starts anew; its trainee, rig and our time go on. */
export function restart(
  station: SimulatedStation,
  state: StationState,
  after: "power-up" | "brownout" | "watchdog",
  seed: number,
): StationStep {
  const step = told(station, state, { kind: "boot", after, at_us: state.now_us }, seed);
  const fresh: StationState = { ...step.state, turn_us: state.now_us, held_keys: [] };
  return { ...step, state: { ...fresh, ...following(station, fresh, seed) } };
}

/** Host bytes arrive now. */
export function hear(station: SimulatedStation, state: StationState, text: string, seed: number): StationStep {
  return told(station, state, { kind: "bytes", text, at_us: state.now_us }, seed);
}

/** Somebody presses a key now and lets it go a moment later. */
export function press(station: SimulatedStation, state: StationState, key: number, seed: number): StationStep {
  const step = told(station, state, { kind: "key", key, pressed: true, at_us: state.now_us }, seed);
  const held_keys = [...step.state.held_keys, { key, until_us: state.now_us + KEY_HELD_US }];
  return { ...step, state: { ...step.state, held_keys } };
}

/** Somebody holds an identity tag to the reader. */
export function present(station: SimulatedStation, state: StationState, tag: string, seed: number): StationStep {
  return told(station, state, { kind: "tag", tag, at_us: state.now_us }, seed);
}

/** Somebody sits down, rested by the time since they last left; null: the seat is empty from now on. */
export function sit(state: StationState, trainee: Trainee | null): StationState {
  const leaving = state.seated;
  const left =
    leaving === null
      ? state.left
      : { ...state.left, [leaving.trainee.code]: { compartments: leaving.state.compartments, at_us: state.now_us } };
  if (trainee === null) return { ...state, left, seated: null };
  const then = left[trainee.code];
  const compartments = then && recovered(then.compartments, (state.now_us - then.at_us) / 1e6, trainee.muscle);
  return { ...state, left, seated: { trainee, state: sitDown(trainee, compartments) } };
}

/** Time passes up to `until_us` without a conversion. */
export function wait(state: StationState, until_us: number): StationState {
  return until_us > state.now_us ? { ...state, now_us: until_us } : state;
}

/** The next conversion, and all that comes of it up to its moment. */
export function next(
  station: SimulatedStation,
  before: StationState,
  seed: number,
): StationStep & { readonly truth: Truth } {
  const at_us = before.due_us;
  const elapsed_s = (at_us - before.at_us) / 1e6;
  const at_s = at_us / 1e6;
  const { seated, set } = lived(before, at_us, seed);
  const handle_N = seated === null ? 0 : handleForce(seated.trainee, seated.state, at_s);
  const muscle_action = seated === null ? null : muscleActionOf(seated.trainee, seated.state);
  const { gain, rate } = before.board;
  const converted = convert(station.rig, before.rig, { handle_N, elapsed_s, at_s, gain, rate }, seedFor(seed, "rig"));
  const counts = before.amplifier === "stuck-high" ? SATURATED_HIGH_COUNTS : converted.counts;
  const moved: StationState = {
    ...before,
    at_us,
    now_us: at_us,
    rig: converted.state,
    seated,
    set,
  };
  const released = keysReleased(station, moved, seed);
  const reading =
    before.amplifier === "silent"
      ? complained(station, released.state, seed)
      : told(station, released.state, { kind: "conversion", counts, muscle_action, at_us }, seed);
  return {
    state: { ...reading.state, ...following(station, reading.state, seed) },
    out: released.out + reading.out,
    truth: {
      at_us,
      handle_N,
      cell_N: converted.state.cell_N,
      counts,
      muscle_action,
      strength_left: seated === null ? null : strengthLeft(seated.state.compartments),
      set,
    },
  };
}

/** Whoever is seated lives on to `at_us`; the truth about the set is kept beside. */
function lived(before: StationState, at_us: number, seed: number): Pick<StationState, "seated" | "set"> {
  if (before.seated === null) return { seated: null, set: before.set };
  const { trainee, state: was } = before.seated;
  const elapsed_s = (at_us - before.at_us) / 1e6;
  const lamps = lampsShown(before.board, before.at_us);
  const state = stepTrainee(trainee, was, elapsed_s, lamps, seedFor(seed, trainee.code));
  return { seated: { trainee, state }, set: followSet(before.set, trainee, was.doing, state, at_us / 1e6) };
}

function keysReleased(station: SimulatedStation, before: StationState, seed: number): StationStep {
  let step: StationStep = { state: before, out: "" };
  for (const { key, until_us } of before.held_keys) {
    if (until_us > before.at_us) continue;
    const up = told(station, step.state, { kind: "key", key, pressed: false, at_us: before.at_us }, seed);
    step = { state: up.state, out: step.out + up.out };
  }
  if (step.out === "") return step;
  const held_keys = before.held_keys.filter((held) => held.until_us > before.at_us);
  return { ...step, state: { ...step.state, held_keys } };
}

/** A board whose amplifier says nothing says so, once a second. */
function complained(station: SimulatedStation, state: StationState, seed: number): StationStep {
  if (state.at_us - state.complained_at_us < COMPLAINT_EVERY_US) return { state, out: "" };
  const step = told(station, state, { kind: "fault", fault: "amplifier-silent", at_us: state.at_us }, seed);
  return { ...step, state: { ...step.state, complained_at_us: state.at_us } };
}

function told(station: SimulatedStation, state: StationState, input: BoardInput, seed: number): StationStep {
  const step = stepBoard(station.board, state.board, input, seedFor(seed, "board"));
  return { state: { ...state, board: step.state }, out: step.out };
}
