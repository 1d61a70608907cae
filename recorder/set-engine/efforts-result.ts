/** What a set of efforts came to. Closes what still runs, then sums up the counted ones. */
import type { EndedBecause, MuscleAction, StopReason } from "../../protocol/vocabulary.ts";
import { type Book, bestOf, enter, isUnconfirmed } from "./book.ts";
import type { EffortReport, SetResult } from "./effects.ts";
import { alone, join } from "./halves.ts";
import { type Closed, closeAt } from "./segment.ts";
import { BRIEF_SHARE, type SetSetup, SHORTEST_DECLINE_S } from "./setup.ts";
import type { Exerting } from "./state.ts";

const FEWEST_FOR_DECLINE = 3;

/** `result` null: there was no counted effort, so there is no set. */
export function effortsResult(
  was: Exerting,
  decided_us: number,
  stop_reason: StopReason,
  ended_because: EndedBecause | null,
): { readonly state: Exerting; readonly result: SetResult | null } {
  const { setup, levels } = was;
  // A handle still held below the attempt level is rest: the effort ended where the rest began.
  const running_us = was.running?.start_us ?? decided_us;
  const rested = was.rest !== null && was.rest.since_us > running_us ? was.rest : null;
  let { book } = was;
  for (const closed of whatIsOpen(was, rested, decided_us)) book = enter(book, setup, levels, closed)?.book ?? book;
  const state: Exerting = { ...was, book, running: null };
  const counted = book.efforts.filter((effort) => effort.counted);
  const last = counted.at(-1);
  if (book.first_onset_us === null || last === undefined) return { state, result: null };

  const onset_us = book.first_onset_us;
  const impulse_N_s = counted.reduce((sum, effort) => sum + effort.impulse_N_s, 0);
  const compared = setup.fatigue_threshold !== null;
  const deciding = counted.filter((effort) => effort.decides);
  return {
    state,
    result: {
      onset_us,
      decided_us,
      stop_reason,
      ended_because,
      reached_threshold: stop_reason === "effort-below-floor",
      duration_s: ((was.rest !== null ? last.end_us : decided_us) - onset_us) / 1e6,
      time_under_tension_s: counted.reduce((sum, effort) => sum + effort.end_us - effort.start_us, 0) / 1e6,
      best_N: bestOf(setup, book.peaks),
      best_unconfirmed: isUnconfirmed(setup, book.peaks),
      floor_N: compared ? book.floor_N : null,
      final_N: deciding.at(-1)?.peak_N ?? null,
      impulse_N_s,
      ...declines(deciding, bestOf(setup, book.peaks)),
      concentric_best_N: bestOfAction(book, setup, "concentric"),
      eccentric_best_N: bestOfAction(book, setup, "eccentric"),
      decided_by: book.decided_by ?? "any",
      efforts: book.efforts,
      resting_N: was.resting_N,
    },
  };
}

/**
 * The running effort and the half of a repetition that waits for it, as far as they got. One that was cut off before it
 * could show its strength is counted and timed, and compared with nothing.
 */
function whatIsOpen(was: Exerting, rested: Exerting["rest"], decided_us: number): readonly Closed[] {
  const { running, trail, halves, book } = was;
  if (running === null) return halves.first === null ? [] : [alone(halves.first)];
  const end_us = rested?.since_us ?? Math.min(decided_us, trail.newest.at_us);
  const open = closeAt(running, end_us, rested?.impulse_N_s ?? trail.newest.impulse_N_s);
  const whole = halves.first === null ? open : join(halves.first, open);
  const settled = rested !== null || running.peak.certain || whole.verdict !== null;
  const brief = (whole.end_us - whole.start_us) / 1e6 < BRIEF_SHARE * (book.median_duration_s ?? 0);
  return [brief && !settled ? alone(whole) : whole];
}

/** One action's best, by the rule of the set's. */
function bestOfAction(book: Book, setup: SetSetup, action: MuscleAction): number | null {
  const peaks = book.efforts
    .filter((effort) => effort.counted && !effort.brief && effort.muscle_action === action)
    .map((effort) => effort.peak_N)
    .sort((a, b) => b - a);
  return bestOf(setup, { highest_N: peaks[0] ?? 0, second_N: peaks[1] ?? 0 });
}

/** Least squares over the peaks from the highest one on, as a share of best; positive is losing. */
function declines(
  deciding: readonly EffortReport[],
  best_N: number | null,
): Pick<SetResult, "decline_per_s" | "decline_per_effort"> {
  const peaks = deciding.map((effort) => effort.peak_N);
  const from = peaks.indexOf(Math.max(...peaks));
  const falling = deciding.slice(Math.max(0, from));
  const first = falling[0];
  const last = falling.at(-1);
  if (best_N === null || first === undefined || last === undefined || falling.length < FEWEST_FOR_DECLINE) {
    return { decline_per_s: null, decline_per_effort: null };
  }
  // Best may be held down below a lone peak; so is the line.
  const forces = falling.map((effort) => Math.min(effort.peak_N, best_N));
  const times = falling.map((effort) => (effort.peak_us - first.peak_us) / 1e6);
  const lasted_s = (last.peak_us - first.peak_us) / 1e6;
  return {
    decline_per_s: lasted_s < SHORTEST_DECLINE_S ? null : -slope(times, forces) / best_N + 0,
    decline_per_effort: -slope([...forces.keys()], forces) / best_N + 0,
  };
}

function slope(xs: readonly number[], ys: readonly number[]): number {
  const mean_x = xs.reduce((sum, x) => sum + x, 0) / xs.length;
  const mean_y = ys.reduce((sum, y) => sum + y, 0) / ys.length;
  let top = 0;
  let bottom = 0;
  for (const [index, x] of xs.entries()) {
    top += (x - mean_x) * ((ys[index] as number) - mean_y);
    bottom += (x - mean_x) ** 2;
  }
  return top / bottom;
}
