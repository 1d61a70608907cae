/** What really happened in a set: beside the counts, for tests to compare with what the recorder made of them. Pure. */
import { strengthLeft } from "./fatigue.ts";
import type { Trainee, TraineeState } from "./trainee.ts";

/** What really happened in the newest set. */
export interface SetTruth {
  readonly trainee: string;
  readonly began_s: number;
  /** Strength the trainee brought to the set, 0..1 of fresh. */
  readonly strength_at_start: number;
  /** When lamp 2 or the end of lamp 1 was shown; null: not yet, or the trainee gave up. */
  readonly called_s: number | null;
  /** (strength at the start - strength when called) / strength at the start. */
  readonly loss_when_called: number | null;
  /** Rounds of the trainee's strokes begun, such as repetitions. */
  readonly rounds: number;
  /** The number of its first round among all rounds since sitting down, from 0. */
  readonly first_round: number;
}

/** The truth about the newest set, after a step of the trainee that ended at `at_s`. */
export function followSet(
  before: SetTruth | null,
  trainee: Trainee,
  was: TraineeState["doing"],
  now: TraineeState,
  at_s: number,
): SetTruth | null {
  const strength = strengthLeft(now.compartments);
  const round = Math.floor(now.stroke / trainee.strokes.length);
  if (now.doing === "working" && was !== "working") {
    return {
      trainee: trainee.code,
      began_s: at_s,
      strength_at_start: strength,
      called_s: null,
      loss_when_called: null,
      rounds: 1,
      first_round: round,
    };
  }
  if (before === null || (now.doing !== "working" && now.doing !== "called")) return before;
  const set = { ...before, rounds: round - before.first_round + 1 };
  if (now.doing === "working" || was === "called") return set;
  return { ...set, called_s: at_s, loss_when_called: (set.strength_at_start - strength) / set.strength_at_start };
}
