/**
 * Armed: waiting for the first effort. It starts by crossing the onset, never by being above it; lasts 180 s; and is
 * where the resting force is taken: one still second, the trainee in place and relaxed.
 */
import { openBook } from "./book.ts";
import type { EngineEffect } from "./effects.ts";
import { intervalOf } from "./gap.ts";
import { NO_HALVES } from "./halves.ts";
import type { ReadingInput } from "./inputs.ts";
import { FRESH_JUDGE } from "./judge.ts";
import { levelsOf } from "./levels.ts";
import { beginEffort } from "./segment.ts";
import { ARMED_LIMIT_S, RESTING_LIMIT_SHARE, RESTING_WINDOW_S } from "./setup.ts";
import { type Armed, inOrder, NO_EFFECTS, NOTHING_TOLD, type Step, stay } from "./state.ts";
import { append, beginTrail, recent, type Trail } from "./trail.ts";

export function readArmed(state: Armed, input: ReadingInput): Step {
  const at_us = input.at_us - state.armed_us;
  if (at_us >= ARMED_LIMIT_S * 1e6) {
    return { state: { is: "disarmed" }, effects: [{ do: "disarmed", because: "time-out" }] };
  }
  const force_N = input.force_N - state.levels.subtracted_N;
  const trail = extend(state, at_us, force_N);
  if (state.resting_from_us !== null) return takeResting(state, trail, state.resting_from_us);
  const above = force_N >= state.levels.onset_N;
  if (!above || !state.was_below) {
    const was_below = state.was_below || !above;
    const { setup, levels, resting_N, armed_us } = state;
    const armed: Armed = {
      is: "armed",
      setup,
      levels,
      resting_N,
      armed_us,
      trail,
      was_below,
      resting_from_us: null,
    };
    return { state: armed, effects: NO_EFFECTS };
  }
  return start(state, trail, input);
}

function extend(state: Armed, at_us: number, force_N: number): Trail {
  if (state.trail === null) return beginTrail(at_us, force_N);
  const interval = intervalOf(state.setup, at_us - state.trail.newest.at_us);
  return append(state.trail, at_us, force_N, interval === "broken" || interval === "lost");
}

function start(state: Armed, trail: Trail, input: ReadingInput): Step {
  const { setup, levels, resting_N, armed_us } = state;
  const running = beginEffort(trail, levels, input.muscle_action, null);
  const effects: readonly EngineEffect[] = [{ do: "phase", phase: "working" }];
  const ready = { setup, levels, resting_N, armed_us, trail };
  if (setup.style !== "hold") {
    return {
      effects,
      state: inOrder({
        ...ready,
        is: "exerting",
        running,
        rest: null,
        valley_N: levels.onset_N,
        hanging: null,
        book: openBook(setup),
        judge: FRESH_JUDGE,
        halves: NO_HALVES,
        told: NOTHING_TOLD,
      }),
    };
  }
  const onset = { at_us: running.start_us, impulse_N_s: running.start_impulse_N_s };
  return {
    effects,
    state: {
      ...ready,
      is: "holding",
      onset,
      best_N: 0,
      best: null,
      floor_N: openBook(setup).floor_N,
      below: null,
      slack: null,
      left: null,
      nearing: false,
      above_ceiling: false,
      sudden: false,
    },
  };
}

/** Asked for the resting force, at a moment since arming: the next still second is it. */
export function askResting(state: Armed, at_us: number): Step {
  return stay({ ...state, resting_from_us: at_us });
}

function takeResting(state: Armed, trail: Trail, from_us: number): Step {
  if (trail.newest.at_us - from_us < RESTING_WINDOW_S * 1e6) return stay({ ...state, trail });
  // Whoever pushed meanwhile must come back under the onset before they can cross it.
  const was_below = trail.newest.force_N < state.levels.onset_N;
  const asked = { ...state, trail, was_below, resting_from_us: null };
  const { mean_N, low_N, high_N } = recent(trail, RESTING_WINDOW_S);
  const { setup } = state;
  const allowed_N = Math.max(8 * setup.noise_N, 0.005 * setup.cell_capacity_N);
  if (mean_N === null || high_N - low_N > allowed_N) {
    const moved = mean_N === null ? "readings were missing" : `it moved by ${(high_N - low_N).toFixed(1)} N`;
    const message = `The force was not still for one second: ${moved}, ${allowed_N.toFixed(1)} N would do. Relax, hold still and ask again.`;
    return { state: asked, effects: [{ do: "resting-refused", code: "not-still", message }] };
  }
  const resting_N = mean_N + state.levels.subtracted_N;
  const limit_N = RESTING_LIMIT_SHARE * setup.cell_capacity_N;
  if (Math.abs(resting_N) > limit_N) {
    const message = `A resting force of ${resting_N.toFixed(0)} N is above ${limit_N.toFixed(0)} N, 10 % of the cell's capacity: relax, or unload the lever, and ask again.`;
    return { state: asked, effects: [{ do: "resting-refused", code: "out-of-range", message }] };
  }
  // What was measured so far had another force taken off it: the trail begins anew.
  return {
    state: { ...asked, resting_N, levels: levelsOf(setup, resting_N), trail: null, was_below: false },
    effects: [{ do: "resting-taken", force_N: resting_N }],
  };
}
