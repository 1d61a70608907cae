/** What a hold came to. */
import type { EndedBecause, StopReason } from "../../protocol/vocabulary.ts";
import type { EffortReport, SetResult } from "./effects.ts";
import { HOLD_SMOOTHING_S, SHORTEST_DECLINE_S } from "./setup.ts";
import type { Holding, Mark } from "./state.ts";
import { meanForce_N, slope_N_s } from "./trail.ts";

export function holdResult(
  state: Holding,
  decided_us: number,
  stop_reason: StopReason,
  ended_because: EndedBecause | null,
): SetResult {
  const { trail, onset, best_N, floor_N } = state;
  const left = stop_reason === "let-go" ? state.left : null;
  const end: Mark = left ?? trail.newest;
  const under_tension_s = (end.at_us - onset.at_us) / 1e6;
  const impulse_N_s = end.impulse_N_s - onset.impulse_N_s;
  const effort: EffortReport = {
    effort_number: 1,
    start_us: onset.at_us,
    end_us: end.at_us,
    peak_us: state.best?.at_us ?? onset.at_us,
    peak_N: best_N,
    valley_N: null,
    impulse_N_s,
    muscle_action: "isometric",
    floor_N,
    below_floor: floor_N === null ? null : stop_reason === "hold-below-floor",
    counted: true,
    brief: false,
    decides: true,
  };
  return {
    onset_us: onset.at_us,
    decided_us,
    stop_reason,
    ended_because,
    reached_threshold: stop_reason === "hold-below-floor",
    duration_s: left === null ? (decided_us - onset.at_us) / 1e6 : under_tension_s,
    time_under_tension_s: under_tension_s,
    best_N,
    best_unconfirmed: false,
    floor_N,
    final_N: finalForce_N(state, left, stop_reason),
    impulse_N_s,
    decline_per_s: decline(state, end),
    decline_per_effort: null,
    concentric_best_N: null,
    eccentric_best_N: null,
    decided_by: "isometric",
    efforts: [effort],
    resting_N: state.resting_N,
  };
}

/** The mean over the grace that ended it; otherwise over the last full second. */
function finalForce_N(state: Holding, left: Holding["left"], reason: StopReason): number | null {
  const { trail, below } = state;
  if (reason === "hold-below-floor" && below !== null) {
    // The grace may be longer than what the trail keeps; where it is unbroken, its mark knows the impulse since.
    const { at_us, impulse_N_s } = trail.newest;
    if (below.at_us >= trail.whole_from_us) return (impulse_N_s - below.impulse_N_s) / ((at_us - below.at_us) / 1e6);
    const since_break_N = meanForce_N(trail, at_us, (at_us - trail.whole_from_us) / 1e6);
    return since_break_N ?? meanForce_N(trail, at_us, HOLD_SMOOTHING_S);
  }
  if (left !== null) return left.mean_N;
  return meanForce_N(trail, trail.newest.at_us, HOLD_SMOOTHING_S);
}

/** Least squares from the second that set the best to the end, as a share of best a second; positive is losing. */
function decline({ trail, best, best_N }: Holding, end: Mark): number | null {
  if (best === null || end.at_us - best.at_us < SHORTEST_DECLINE_S * 1e6) return null;
  const slope = slope_N_s(trail.origin_us, best.at_us, best, end.at_us, end);
  return slope === null ? null : -slope / best_N + 0;
}
