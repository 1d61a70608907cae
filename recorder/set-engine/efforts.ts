/**
 * The styles made of efforts: continuous, eccentric-only, rest-pause. One reading goes through segmentation, the book,
 * the judge, then rest, hanging and limits; the first that ends the set does.
 */
import type { EndedBecause, StopReason } from "../../protocol/vocabulary.ts";
import { type Book, decides, enter, isTouch } from "./book.ts";
import type { EngineEffect } from "./effects.ts";
import { effortsResult } from "./efforts-result.ts";
import { signals } from "./efforts-signals.ts";
import { intervalOf } from "./gap.ts";
import { alone, isHalf, join, leaveAlone, NO_HALVES, pair } from "./halves.ts";
import { hang, hangsTooLong } from "./hanging.ts";
import type { ReadingInput } from "./inputs.ts";
import { isOver, judgedPeak_N, judgeEffort, judgePause, settlesNow } from "./judge.ts";
import { attemptLevel_N } from "./levels.ts";
import { beginEffort, beginHanging, type Closed, closeAt, cut, peakOf, type Running, withVerdict } from "./segment.ts";
import { EFFORT_SMOOTHING_S, PROMINENCE_NOISES, PROMINENCE_SHARE, type SetSetup, SHORTEST_EFFORT_S } from "./setup.ts";
import { type Exerting, inOrder, NO_EFFECTS, type Step } from "./state.ts";
import { append, meanForce_N, type Trail } from "./trail.ts";

export function readEfforts(was: Exerting, input: ReadingInput): Step {
  const { setup, levels } = was;
  const at_us = input.at_us - was.armed_us;
  const step_us = at_us - was.trail.newest.at_us;
  const interval = intervalOf(setup, step_us);
  if (interval === "lost") return endEfforts(was, was.trail.newest.at_us, "sensor-fault", null);
  const force_N = input.force_N - levels.subtracted_N;
  const trail = append(was.trail, at_us, force_N, interval === "broken");

  const state = judgeEarly(advance(was, trail, input, interval === "steady" ? 0 : step_us));
  const effects = state.book === was.book ? NO_EFFECTS : entered(was.book, state.book);
  if (isOver(state.judge, setup)) return ended(state, at_us, "effort-below-floor", effects);
  const limit = limitReached(state, at_us);
  if (limit !== null) return ended(state, at_us, limit, effects);
  if (state.running === null && state.halves.first === null && state.book.first_onset_us === null) {
    return backToArmed(state);
  }
  return signals(was, state, force_N, effects);
}

/** Ends the set for a reason; before any counted effort there is none. */
export function endEfforts(was: Exerting, at_us: number, reason: StopReason, because: EndedBecause | null): Step {
  return ended(was, at_us, reason, NO_EFFECTS, because);
}

function ended(
  was: Exerting,
  at_us: number,
  reason: StopReason,
  told: readonly EngineEffect[],
  because: EndedBecause | null = null,
): Step {
  const { state, result } = effortsResult(was, at_us, reason, because);
  if (result === null) {
    const why = reason === "overload" || reason === "sensor-fault" || reason === "interrupted" ? reason : "on-request";
    return { state: { is: "disarmed" }, effects: [...told, { do: "disarmed", because: why }] };
  }
  return {
    state: { is: "over", result },
    effects: [...told, ...entered(was.book, state.book), { do: "over", result }],
  };
}

/** The efforts that have come into the book, told. */
function entered(before: Book, after: Book): readonly EngineEffect[] {
  return after.efforts
    .slice(before.efforts.length)
    .map((effort) => ({ do: "effort", onset_us: after.first_onset_us ?? effort.start_us, effort }));
}

/** What came first was too short to be an effort: nothing has begun yet. */
function backToArmed({ setup, levels, resting_N, armed_us, trail }: Exerting): Step {
  return {
    state: { is: "armed", setup, levels, resting_N, armed_us, trail, was_below: true, resting_from_us: null },
    effects: [{ do: "phase", phase: "armed" }],
  };
}

/** Force below the attempt level is rest, and so is whatever a hand or a strap leaves on the handle between efforts. */
function resting(was: Exerting, running: Running | null, trail: Trail): Exerting["rest"] {
  const attempts = running !== null && trail.newest.force_N >= attemptLevel_N(was.levels, was.book.floor_N);
  if (attempts) return null;
  if (was.rest !== null) return was.rest;
  return { since_us: trail.newest.at_us, impulse_N_s: trail.newest.impulse_N_s, half_told: false };
}

/** Segmentation, and what it brings to book and judge. `gap_us`: time in which nothing was measured. */
function advance(was: Exerting, trail: Trail, input: ReadingInput, gap_us: number): Exerting {
  const { levels, setup } = was;
  const { force_N, at_us } = trail.newest;
  let { running, book, judge, halves, valley_N } = was;
  let closed: Closed | null = null;
  if (running !== null) {
    // A set whose first counted effort named no muscle action goes on without.
    const known = book.decided_by === "any" ? null : input.muscle_action;
    const step = cut(running, trail, known, levels, setup);
    running = step.running;
    closed = step.closed;
  } else if (force_N >= levels.onset_N) {
    running = beginEffort(trail, levels, input.muscle_action, valley_N);
  }
  valley_N = running === null ? (closed === null ? Math.min(valley_N, force_N) : force_N) : valley_N;
  if (closed !== null) {
    const whole = wholeOf(was, closed, running);
    halves = whole.halves;
    if (whole.whole !== null) ({ book, judge } = settle({ book, judge }, setup, levels, whole.whole));
  } else if (running === null) {
    const left = leaveAlone(halves, at_us);
    halves = left.halves;
    if (left.whole !== null) ({ book, judge } = settle({ book, judge }, setup, levels, left.whole));
    judge = judgePause(judge, at_us, book.floor_N);
  }
  const { resting_N, armed_us, told } = was;
  const hanging = hang(was, running, book, trail, gap_us);
  const rest = resting(was, running, trail);
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

/** One effort is one repetition, or half of one where the station says so and the muscle action is not known. */
function wholeOf({ halves, setup, levels, book }: Exerting, closed: Closed, running: Running | null) {
  // One that hung below the floor counts by itself.
  const hung = halves.first === null && closed.verdict !== null;
  if (!isHalf(setup, closed.muscle_action) || hung) return { halves, whole: closed };
  // What is no effort is no half either, and a touch between two halves stays one.
  const duration_s = (closed.end_us - closed.start_us) / 1e6;
  if (duration_s < SHORTEST_EFFORT_S) return { halves, whole: null };
  if (book.median_duration_s !== null && isTouch(book, levels, closed.peak_N, 2 * duration_s)) {
    return { halves, whole: alone(closed) };
  }
  const margin_N = Math.max(PROMINENCE_NOISES * setup.noise_N, PROMINENCE_SHARE * closed.peak_N);
  return pair(halves, closed, running?.valley_N ?? 0, margin_N);
}

function settle(
  { book, judge }: Pick<Exerting, "book" | "judge">,
  setup: SetSetup,
  levels: Exerting["levels"],
  whole: Closed,
): Pick<Exerting, "book" | "judge"> {
  const entry = enter(book, setup, levels, whole);
  if (entry === null) return { book, judge };
  const { effort } = entry;
  const unjudged = effort.counted && effort.decides && whole.verdict === null;
  return {
    book: entry.book,
    judge: unjudged ? judgeEffort(judge, setup, effort.peak_N, effort.end_us, entry.book.floor_N) : judge,
  };
}

/**
 * The call comes as soon as the peak is certain: an effort that can no longer reach the floor is judged before it ends,
 * if it counts already; likewise one that only hangs below it.
 */
function judgeEarly(state: Exerting): Exerting {
  const { running, book, setup, levels, trail } = state;
  if (running === null || book.floor_N === null) return state;
  if (hangsTooLong(state)) return judgeHanging(state, running, book.floor_N);
  if (!running.peak.certain || running.verdict !== null || !settlesNow(state.judge, setup)) return state;
  if (!decides(book, setup, running.muscle_action) || isFirstHalf(state)) return state;
  const { at_us } = trail.newest;
  const elapsed_s = (at_us - running.start_us) / 1e6;
  const peak_N = peakOf(running);
  const whole_N = Math.max(judgedPeak_N(state.judge, peak_N), state.halves.first?.peak_N ?? 0);
  if (whole_N >= book.floor_N || elapsed_s < SHORTEST_EFFORT_S) return state;
  // Too weak for an attempt: a touch until it has lasted half of what the set's efforts do.
  if (isTouch(book, levels, peak_N, elapsed_s)) return state;
  return inOrder({
    ...state,
    running: withVerdict(running, { below: true, floor_N: book.floor_N }),
    judge: judgeEffort(state.judge, setup, whole_N, at_us, book.floor_N),
  });
}

const isFirstHalf = ({ setup, running, halves }: Exerting): boolean =>
  halves.first === null && isHalf(setup, running?.muscle_action ?? null);

/** Hanging between attempt level and floor counts as one effort below the floor, whatever came before it. */
function judgeHanging(state: Exerting, running: Running, floor_N: number): Exerting {
  const { setup, levels, trail, hanging } = state;
  if (hanging === null) return state;
  let { book, judge } = state;
  let hung = running;
  const { first } = state.halves;
  const before_us = hanging.since_us - running.start_us;
  if (before_us >= SHORTEST_EFFORT_S * 1e6 && (running.verdict !== null || peakOf(running) >= floor_N)) {
    const earlier = closeAt(running, hanging.since_us, hanging.impulse_N_s);
    const lone = first === null && running.verdict === null && isHalf(setup, running.muscle_action);
    const whole = first === null ? (lone ? alone(earlier) : earlier) : join(first, earlier);
    ({ book, judge } = settle({ book, judge }, setup, levels, whole));
    const level_N = meanForce_N(trail, trail.newest.at_us, EFFORT_SMOOTHING_S) ?? trail.newest.force_N;
    hung = beginHanging(running.muscle_action, hanging, trail.newest.force_N, level_N);
  } else if (first !== null) {
    ({ book, judge } = settle({ book, judge }, setup, levels, alone(first)));
  }
  return inOrder({
    ...state,
    book,
    halves: NO_HALVES,
    running: withVerdict(hung, { below: true, floor_N }),
    judge: { ...judge, below_in_a_row: judge.below_in_a_row + 1, cluster: null },
    hanging: { since_us: trail.newest.at_us, impulse_N_s: trail.newest.impulse_N_s },
  });
}

function limitReached({ setup, book, halves, rest, running }: Exerting, at_us: number): StopReason | null {
  const { options } = setup;
  if (options.effort_limit !== null && book.deciding >= options.effort_limit) return "effort-limit";
  // A first effort that never ends is under way as well.
  const begun_us = book.first_onset_us ?? halves.first?.start_us ?? running?.start_us ?? at_us;
  if (at_us - begun_us >= options.time_limit_s * 1e6) return "time-limit";
  if (rest === null || options.rest_limit_s === null || book.first_onset_us === null) return null;
  return at_us - rest.since_us >= options.rest_limit_s * 1e6 ? "rest-limit" : null;
}
