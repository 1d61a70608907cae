/** What a reading of an effort style makes visible: phase, nearing the floor, half of the rest, sudden loss, ceiling. */
import type { EngineEffect } from "./effects.ts";
import { isHalf } from "./halves.ts";
import { attemptLevel_N, isAboveCeiling, reserveOf } from "./levels.ts";
import { peakOf } from "./segment.ts";
import { BRIEF_SHARE, NEARING_RESERVE, SUDDEN_LOSS_S } from "./setup.ts";
import { type Exerting, inOrder, type Step } from "./state.ts";
import { recent } from "./trail.ts";

export function signals(was: Exerting, state: Exerting, force_N: number, entered: readonly EngineEffect[]): Step {
  const { setup, book, told } = state;
  const phase = state.running === null ? "resting" : "working";
  const turned = phase !== (was.running === null ? "resting" : "working");
  const reserve = book.last_peak_N === null ? null : reserveOf(setup, book.floor_N, reservePeak_N(state) ?? 0);
  const nearing = reserve !== null && reserve <= NEARING_RESERVE;
  const above_ceiling = isAboveCeiling(setup, force_N, told.above_ceiling);
  const sudden_us = isSudden(was, force_N) ? (was.running?.start_us ?? null) : told.sudden_us;
  const rest = halfOfRest(state);
  const same =
    nearing === told.nearing &&
    above_ceiling === told.above_ceiling &&
    sudden_us === told.sudden_us &&
    rest === state.rest;
  if (same && !turned) return { state, effects: entered };

  const effects: EngineEffect[] = [...entered];
  if (turned) effects.push({ do: "phase", phase });
  if (nearing !== told.nearing) effects.push({ do: "nearing", on: nearing });
  if (above_ceiling !== told.above_ceiling) effects.push({ do: "ceiling", above: above_ceiling });
  if (sudden_us !== told.sudden_us) effects.push({ do: "sudden-loss" });
  if (rest !== state.rest) effects.push({ do: "rest-half" });
  return { state: same ? state : inOrder({ ...state, told: { nearing, above_ceiling, sudden_us }, rest }), effects };
}

/**
 * Peak of the running effort once it is certain or above the last one's; else of the last one, N. The first half of a
 * repetition says nothing certain about the whole.
 */
export function reservePeak_N({ setup, running, book, halves }: Exerting): number | null {
  if (running === null) return book.last_peak_N;
  const peak_N = Math.max(peakOf(running), halves.first?.peak_N ?? 0);
  const certain = running.peak.certain && (halves.first !== null || !isHalf(setup, running.muscle_action));
  return certain || book.last_peak_N === null || peak_N > book.last_peak_N ? peak_N : book.last_peak_N;
}

function halfOfRest({ rest, setup, trail, book }: Exerting): Exerting["rest"] {
  const limit_s = setup.options.rest_limit_s;
  if (rest === null || rest.half_told || limit_s === null || book.first_onset_us === null) return rest;
  if (trail.newest.at_us - rest.since_us < (limit_s / 2) * 1e6) return rest;
  return { ...rest, half_told: true };
}

/**
 * More than half of the force gone within 0.3 s, under load. A repetition's ordinary end looks the same, so only a
 * loss well before the time at which this set's efforts end (60 % of their median) is told.
 */
function isSudden({ setup, levels, running, book, trail, told }: Exerting, force_N: number): boolean {
  if (setup.resistance !== "driven" && setup.style !== "eccentric-only") return false;
  if (running === null || book.median_duration_s === null || running.start_us === told.sudden_us) return false;
  // Under load: a touch is none.
  if (force_N > running.peak.top_N / 2 || running.peak.top_N < attemptLevel_N(levels, book.floor_N)) return false;
  const elapsed_s = (trail.newest.at_us - running.start_us) / 1e6;
  const usual_s = book.median_duration_s / (isHalf(setup, running.muscle_action) ? 2 : 1);
  if (elapsed_s >= BRIEF_SHARE * usual_s) return false;
  return force_N < recent(trail, SUDDEN_LOSS_S).high_N / 2;
}
