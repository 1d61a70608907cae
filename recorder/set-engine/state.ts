/**
 * The states of a set. Each holds what the next reading needs, small and flat; what changes seldom hangs on it by
 * reference. A state is a value: a step never writes to it, so any of them can be kept and stepped again.
 *
 * Inside a state every moment is counted in us from arming, not from the device's start: a whole number that stays small
 * for as long as a set may last, which the machine can keep without a box of its own. `engine.ts` turns moments over.
 */
import type { Book } from "./book.ts";
import type { EngineEffect, SetResult } from "./effects.ts";
import type { Halves } from "./halves.ts";
import type { Judge } from "./judge.ts";
import type { Levels } from "./levels.ts";
import type { Running } from "./segment.ts";
import type { SetSetup } from "./setup.ts";
import type { Integrals, Trail } from "./trail.ts";

/** A moment, with the running integrals up to it. */
export interface Mark extends Integrals {
  readonly at_us: number;
}

interface Ready {
  readonly setup: SetSetup;
  readonly levels: Levels;
  readonly resting_N: number | null;
  /** Device time at which the set was armed, us: where moments inside count from, false starts or not. */
  readonly armed_us: number;
}

export interface Armed extends Ready {
  readonly is: "armed";
  /** null before the first reading. */
  readonly trail: Trail | null;
  /** Force has been under the onset since arming: only then can it cross it. */
  readonly was_below: boolean;
  /** Since when the resting force is being taken; null: it is not. */
  readonly resting_from_us: number | null;
}

/** Time spent below a level; it stands still over gaps. */
export interface Lapse extends Mark {
  readonly stood_us: number;
}

export interface Holding extends Ready {
  readonly is: "holding";
  readonly trail: Trail;
  readonly onset: { readonly at_us: number; readonly impulse_N_s: number };
  /** Highest confirmed second, N; 0 while there is none; `best` is where that second began. */
  readonly best_N: number;
  readonly best: Mark | null;
  readonly floor_N: number | null;
  /** Smoothed force below the floor. */
  readonly below: Lapse | null;
  /** Force below the attempt level. */
  readonly slack: Lapse | null;
  /** Where the force last left the floor (before there is one: the release level), and the mean of the second before. */
  readonly left: (Mark & { readonly mean_N: number | null }) | null;
  readonly nearing: boolean;
  readonly above_ceiling: boolean;
  readonly sudden: boolean;
}

/** Force below the attempt level: rest, whether or not the handle is still touched. */
export interface Rest {
  readonly since_us: number;
  readonly impulse_N_s: number;
  readonly half_told: boolean;
}

/** What was made visible last, to tell changes only. */
export interface Told {
  readonly nearing: boolean;
  readonly above_ceiling: boolean;
  /** Start of the effort whose sudden loss was told; one effort tells it once. */
  readonly sudden_us: number | null;
}

export const NOTHING_TOLD: Told = { nearing: false, above_ceiling: false, sudden_us: null };

export interface Exerting extends Ready {
  readonly is: "exerting";
  readonly trail: Trail;
  readonly running: Running | null;
  readonly rest: Rest | null;
  /** Lowest force since the last effort, N. */
  readonly valley_N: number;
  /** Since when force has hung between attempt level and floor without a peak. */
  readonly hanging: { readonly since_us: number; readonly impulse_N_s: number } | null;
  readonly book: Book;
  readonly judge: Judge;
  readonly halves: Halves;
  readonly told: Told;
}

/**
 * The same state, with its fields in the one order. A copy made by spreading has another hidden class than one written
 * out, and every function that then meets both runs at half its speed: rare changes go through here.
 */
export function inOrder(state: Exerting): Exerting {
  const { setup, levels, resting_N, armed_us, trail, running, rest, valley_N, hanging, book, judge, halves, told } =
    state;
  return {
    is: "exerting",
    setup,
    levels,
    resting_N,
    armed_us,
    trail,
    running,
    rest,
    valley_N,
    hanging,
    book,
    judge,
    halves,
    told,
  };
}

/** It came to nothing: no set, no number used up. */
export interface Disarmed {
  readonly is: "disarmed";
}

export interface Over {
  readonly is: "over";
  readonly result: SetResult;
}

export type EngineState = Armed | Holding | Exerting | Disarmed | Over;

export interface Step {
  readonly state: EngineState;
  readonly effects: readonly EngineEffect[];
}

export const NO_EFFECTS: readonly EngineEffect[] = Object.freeze([]);

export const stay = (state: EngineState): Step => ({ state, effects: NO_EFFECTS });
