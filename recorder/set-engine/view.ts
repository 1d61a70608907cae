/** What can be seen of a set at any moment: the figures of a live value. Forces N, times s; null: not known. */
import { confirmedBestOf } from "./book.ts";
import { reservePeak_N } from "./efforts-signals.ts";
import { elapsed_us } from "./hold.ts";
import { reserveOf } from "./levels.ts";
import { HOLD_SMOOTHING_S } from "./setup.ts";
import type { EngineState } from "./state.ts";
import { meanForce_N } from "./trail.ts";

export interface SetView {
  readonly phase: "armed" | "working" | "resting" | null;
  readonly elapsed_s: number | null;
  readonly best_N: number | null;
  readonly floor_N: number | null;
  readonly reserve: number | null;
  readonly effort_number: number;
  readonly below_floor_s: number | null;
}

const NOTHING: SetView = {
  phase: null,
  elapsed_s: null,
  best_N: null,
  floor_N: null,
  reserve: null,
  effort_number: 0,
  below_floor_s: null,
};

/** The phase alone, cheap enough to be asked at every reading; null: it came to nothing, or is over. */
export function enginePhase(state: EngineState): "armed" | "working" | "resting" | null {
  switch (state.is) {
    case "armed":
      return "armed";
    case "holding":
      return "working";
    case "exerting":
      return state.running === null ? "resting" : "working";
    case "disarmed":
    case "over":
      return null;
  }
}

export function viewOf(state: EngineState): SetView {
  switch (state.is) {
    case "armed":
      return { ...NOTHING, phase: "armed" };
    case "holding": {
      const { trail, floor_N, setup } = state;
      const { at_us } = trail.newest;
      const smoothed_N = meanForce_N(trail, at_us, HOLD_SMOOTHING_S);
      return {
        phase: "working",
        elapsed_s: (at_us - state.onset.at_us) / 1e6,
        best_N: state.best_N > 0 ? state.best_N : null,
        floor_N,
        reserve: smoothed_N === null ? null : reserveOf(setup, floor_N, smoothed_N),
        effort_number: 1,
        below_floor_s: floor_N === null ? null : state.below === null ? 0 : elapsed_us(state.below, at_us) / 1e6,
      };
    }
    case "exerting": {
      const { book, setup, running, trail } = state;
      const begun_us = book.first_onset_us ?? running?.start_us ?? null;
      const peak_N = reservePeak_N(state);
      return {
        phase: running === null ? "resting" : "working",
        elapsed_s: begun_us === null ? null : (trail.newest.at_us - begun_us) / 1e6,
        best_N: confirmedBestOf(setup, book.peaks),
        floor_N: book.floor_N,
        reserve: peak_N === null ? null : reserveOf(setup, book.floor_N, peak_N),
        effort_number: book.efforts.length + (running === null ? 0 : 1),
        below_floor_s: null,
      };
    }
    case "over": {
      const { result } = state;
      return {
        ...NOTHING,
        elapsed_s: result.duration_s,
        best_N: result.best_N,
        floor_N: result.floor_N,
        effort_number: result.efforts.length,
      };
    }
    case "disarmed":
      return NOTHING;
  }
}
