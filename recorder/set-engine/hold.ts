/**
 * A hold: one effort, kept up. Best is the highest second that the next one confirms, so that neither a jerk nor lucky
 * noise sets the floor. Over when the smoothed force has stayed below the floor for the grace, or when it was let go:
 * below the attempt level for the grace. Let go within 2 s, or under half of the trainee's last comparable best, it
 * was a false start. Time in which nothing was measured moves neither grace.
 */
import type { EndedBecause, StopReason } from "../../protocol/vocabulary.ts";
import type { EngineEffect } from "./effects.ts";
import { intervalOf } from "./gap.ts";
import { holdResult } from "./hold-result.ts";
import type { ReadingInput } from "./inputs.ts";
import { attemptLevel_N, floorOf, isAboveCeiling, reserveOf } from "./levels.ts";
import { HOLD_CONFIRMING_SHARE, HOLD_EARLIEST_S, HOLD_SMOOTHING_S, NEARING_RESERVE, SUDDEN_LOSS_S } from "./setup.ts";
import { type Holding, type Lapse, type Mark, NO_EFFECTS, type Step } from "./state.ts";
import { append, integralsAt, meanForce_N, recent, type Trail } from "./trail.ts";

const SECOND_US = HOLD_SMOOTHING_S * 1e6;

export function readHold(state: Holding, input: ReadingInput): Step {
  const { setup, levels } = state;
  const at_us = input.at_us - state.armed_us;
  const step_us = at_us - state.trail.newest.at_us;
  const interval = intervalOf(setup, step_us);
  if (interval === "lost") return endHold(state, state.trail.newest.at_us, "sensor-fault", null);
  const force_N = input.force_N - levels.subtracted_N;
  const trail = append(state.trail, at_us, force_N, interval === "broken");

  const smoothed_N = meanForce_N(trail, at_us, HOLD_SMOOTHING_S);
  const confirmed_N = smoothed_N === null ? 0 : confirmedSecond_N(state, trail, smoothed_N);
  const rises = confirmed_N > state.best_N;
  const best_N = rises ? confirmed_N : state.best_N;
  const best = rises ? markAt(trail, at_us - 2 * SECOND_US) : state.best;
  const floor_N = rises ? floorOf(setup, best_N) : state.floor_N;

  const still = interval !== "steady";
  const early = at_us - state.onset.at_us < HOLD_EARLIEST_S * 1e6;
  const under = floor_N !== null && smoothed_N !== null && smoothed_N < floor_N && !early;
  const below =
    smoothed_N === null && state.below !== null
      ? stand(state.below, step_us)
      : lapse(state.below, under, trail, still, step_us);
  // Who is still on the way up has not let go: before the grace runs, only a released handle is.
  const attempt_N = early ? levels.release_N : attemptLevel_N(levels, floor_N);
  const slack = lapse(state.slack, force_N < attempt_N, trail, still, step_us);
  const left = leaving(state, force_N, floor_N ?? levels.release_N);

  const next: Holding = {
    is: "holding",
    setup,
    levels,
    resting_N: state.resting_N,
    armed_us: state.armed_us,
    trail,
    onset: state.onset,
    best_N,
    best,
    floor_N,
    below,
    slack,
    left,
    nearing: state.nearing,
    above_ceiling: state.above_ceiling,
    sudden: state.sudden,
  };
  const grace_us = setup.options.grace_s * 1e6;
  if (slack !== null && elapsed_us(slack, at_us) >= grace_us) return letGo(next, at_us);
  if (below !== null && elapsed_us(below, at_us) >= grace_us) return endHold(next, at_us, "hold-below-floor", null);
  if (at_us - state.onset.at_us >= setup.options.time_limit_s * 1e6) return endHold(next, at_us, "time-limit", null);
  return signalled(next, force_N, smoothed_N);
}

/** Ends a hold for a reason. Before its second second there is no best and no set. */
export function endHold(state: Holding, at_us: number, reason: StopReason, because: EndedBecause | null): Step {
  if (state.best_N === 0) {
    const told = reason === "overload" || reason === "sensor-fault" || reason === "interrupted" ? reason : "on-request";
    return { state: { is: "disarmed" }, effects: [{ do: "disarmed", because: told }] };
  }
  const result = holdResult(state, at_us, reason, because);
  return { state: { is: "over", result }, effects: [{ do: "over", result }] };
}

function letGo(state: Holding, at_us: number): Step {
  const { setup, levels, resting_N, armed_us, trail } = state;
  const left_us = state.left?.at_us ?? at_us;
  const early = left_us - state.onset.at_us < HOLD_EARLIEST_S * 1e6;
  const weak = setup.comparable_best_force_N !== null && state.best_N < setup.comparable_best_force_N / 2;
  if (!early && !weak && state.best_N > 0) return endHold(state, at_us, "let-go", null);
  return {
    state: { is: "armed", setup, levels, resting_N, armed_us, trail, was_below: false, resting_from_us: null },
    effects: [{ do: "false-start" }, { do: "phase", phase: "armed" }],
  };
}

/** The second that the newest one confirms, N: min(m(t), m(t + 1 s) / 0.95); 0 before the hold holds both. */
function confirmedSecond_N(state: Holding, trail: Trail, smoothed_N: number): number {
  const began_us = trail.newest.at_us - 2 * SECOND_US;
  if (began_us < state.onset.at_us || smoothed_N <= state.best_N * HOLD_CONFIRMING_SHARE) return 0;
  const second_N = meanForce_N(trail, trail.newest.at_us - SECOND_US, HOLD_SMOOTHING_S);
  return second_N === null ? 0 : Math.min(second_N, smoothed_N / HOLD_CONFIRMING_SHARE);
}

function markAt(trail: Trail, at_us: number): Mark | null {
  const integrals = integralsAt(trail, at_us);
  if (integrals === null) return null;
  return { at_us, impulse_N_s: integrals.impulse_N_s, moment_N_s2: integrals.moment_N_s2 };
}

function here(trail: Trail): Mark {
  const { at_us, impulse_N_s, moment_N_s2 } = trail.newest;
  return { at_us, impulse_N_s, moment_N_s2 };
}

const stand = (lapse: Lapse, step_us: number): Lapse => ({ ...lapse, stood_us: lapse.stood_us + step_us });

export const elapsed_us = (lapse: Lapse, at_us: number): number => at_us - lapse.at_us - lapse.stood_us;

function lapse(was: Lapse | null, under: boolean, trail: Trail, still: boolean, step_us: number): Lapse | null {
  if (!under) return null;
  if (was === null) return { ...here(trail), stood_us: 0 };
  return still ? stand(was, step_us) : was;
}

/** Remembers where the force leaves a level downwards, and forgets it when it is back. */
function leaving(state: Holding, force_N: number, level_N: number): Holding["left"] {
  if (force_N >= level_N) return null;
  if (state.left !== null) return state.left;
  const last = state.trail.newest;
  const mean_N = meanForce_N(state.trail, last.at_us, HOLD_SMOOTHING_S);
  return { at_us: last.at_us, impulse_N_s: last.impulse_N_s, moment_N_s2: last.moment_N_s2, mean_N };
}

function signalled(state: Holding, force_N: number, smoothed_N: number | null): Step {
  const { setup, trail } = state;
  const reserve = smoothed_N === null ? null : reserveOf(setup, state.floor_N, smoothed_N);
  // Before a hold is judged its smoothed force still carries the time before the onset.
  const judged = trail.newest.at_us - state.onset.at_us >= HOLD_EARLIEST_S * 1e6;
  const nearing = judged && reserve !== null && reserve <= NEARING_RESERVE;
  const above_ceiling = isAboveCeiling(setup, force_N, state.above_ceiling);
  const sudden = state.sudden || isSudden(state, force_N);
  if (nearing === state.nearing && above_ceiling === state.above_ceiling && sudden === state.sudden) {
    return { state, effects: NO_EFFECTS };
  }
  const effects: EngineEffect[] = [];
  if (sudden !== state.sudden) effects.push({ do: "sudden-loss" });
  if (nearing !== state.nearing) effects.push({ do: "nearing", on: nearing });
  if (above_ceiling !== state.above_ceiling) effects.push({ do: "ceiling", above: above_ceiling });
  return { state: { ...state, nearing, above_ceiling, sudden }, effects };
}

/** On a driven station a limb that gives way is still under the motor. */
function isSudden(state: Holding, force_N: number): boolean {
  if (state.setup.resistance !== "driven" || state.best_N === 0 || force_N > state.best_N / 2) return false;
  return force_N < recent(state.trail, SUDDEN_LOSS_S).high_N / 2;
}
