/**
 * The book of a set's efforts: what was listed and counted, and the best and floor that follow from it. Written only
 * when an effort ends, so it may be as large as it likes.
 *
 * Best is never fused across muscle actions: only deciding efforts raise it. In continuous and rest-pause one peak may
 * stand at most 1.10 times above the second highest. An effort shorter than 60 % of the set's median is brief and never
 * raises best; one whose peak is under the attempt level and which lasts under half the median is a touch: listed,
 * not counted. Without a tested best the floor stands from the second counted effort on.
 */
import type { DecidedBy, MuscleAction } from "../../protocol/vocabulary.ts";
import type { EffortReport } from "./effects.ts";
import { attemptLevel_N, floorOf, type Levels } from "./levels.ts";
import type { Closed } from "./segment.ts";
import { BRIEF_SHARE, CONFIRMED_RATIO, type SetSetup, SHORTEST_EFFORT_S } from "./setup.ts";

/** The two highest peaks of one kind of effort, N; 0 while there are none. */
interface Peaks {
  readonly highest_N: number;
  readonly second_N: number;
}

export interface Book {
  readonly efforts: readonly EffortReport[];
  /** null until the first counted effort shows whether the board knows the muscle action. */
  readonly decided_by: DecidedBy | null;
  readonly first_onset_us: number | null;
  readonly deciding: number;
  readonly peaks: Peaks;
  readonly floor_N: number | null;
  /** Over counted deciding efforts; null before the first. */
  readonly median_duration_s: number | null;
  /** Between the peaks of counted deciding efforts; null before the second. */
  readonly median_spacing_s: number | null;
  readonly last_peak_N: number | null;
  readonly last_end_us: number | null;
}

const BLANK: Omit<Book, "floor_N"> = {
  efforts: [],
  decided_by: null,
  first_onset_us: null,
  deciding: 0,
  peaks: { highest_N: 0, second_N: 0 },
  median_duration_s: null,
  median_spacing_s: null,
  last_peak_N: null,
  last_end_us: null,
};

/** A set with a tested best, or measured against today's, has its floor before the first effort. */
export const openBook = (setup: SetSetup): Book => ({ ...BLANK, floor_N: floorOf(setup, null) });

/** Whether peaks of a style need a second one to confirm them. */
const needsConfirming = (setup: SetSetup): boolean => setup.style === "continuous" || setup.style === "rest-pause";

/** Best as it stands, N; null before the first effort that may set one. */
export function bestOf(setup: SetSetup, { highest_N, second_N }: Peaks): number | null {
  if (highest_N === 0) return null;
  if (!needsConfirming(setup) || second_N === 0) return highest_N;
  return Math.min(highest_N, CONFIRMED_RATIO * second_N);
}

/** Best as the floor may stand on it, N; null also while a lone peak still lacks the second that confirms it. */
export function confirmedBestOf(setup: SetSetup, peaks: Peaks): number | null {
  return needsConfirming(setup) && peaks.second_N === 0 ? null : bestOf(setup, peaks);
}

/** Whether best stands on one peak alone, or was held down to what the second highest allows. */
export function isUnconfirmed(setup: SetSetup, { highest_N, second_N }: Peaks): boolean {
  return needsConfirming(setup) && highest_N > 0 && highest_N > CONFIRMED_RATIO * second_N;
}

/** Which efforts decide, once the first counted one is known: where the board knows the muscle action, only one kind. */
function decidedBy(setup: SetSetup, action: MuscleAction | null): DecidedBy {
  if (action === null) return "any";
  if (setup.style === "continuous") return "concentric";
  return setup.style === "eccentric-only" ? "eccentric" : action;
}

export const decides = (book: Book, setup: SetSetup, action: MuscleAction | null): boolean => {
  const by = book.decided_by ?? decidedBy(setup, action);
  return by === "any" || by === action;
};

/** Whether an effort so long and so weak is a touch. Where nothing was counted yet, one so weak has not begun the set. */
export function isTouch(book: Book, levels: Levels, peak_N: number, duration_s: number): boolean {
  if (book.floor_N === null || peak_N >= attemptLevel_N(levels, book.floor_N)) return false;
  return book.median_duration_s === null || duration_s < book.median_duration_s / 2;
}

/** Enters a finished effort. null: shorter than the shortest effort, it was none. */
export function enter(
  book: Book,
  setup: SetSetup,
  levels: Levels,
  closed: Closed,
): { readonly book: Book; readonly effort: EffortReport } | null {
  const duration_s = (closed.end_us - closed.start_us) / 1e6;
  if (duration_s < SHORTEST_EFFORT_S && closed.verdict === null) return null;
  const deciding = closed.comparable && decides(book, setup, closed.muscle_action);
  const counted = closed.verdict !== null || !isTouch(book, levels, closed.peak_N, duration_s);
  const median_s = book.median_duration_s;
  const brief = deciding && median_s !== null && duration_s < BRIEF_SHARE * median_s;
  const raises = counted && deciding && !brief && closed.may_raise_best;
  const peaks = raises
    ? withPeak(book.peaks, closed.peak_N)
    : counted && deciding
      ? heldDownBy(book.peaks, closed.peak_N)
      : book.peaks;
  const count = book.deciding + (counted && deciding ? 1 : 0);
  const stands = book.floor_N !== null || count >= 2;
  const floor_N = stands ? highest(book.floor_N, floorOf(setup, confirmedBestOf(setup, peaks))) : null;
  const judged = counted && deciding && floor_N !== null;
  const effort: EffortReport = {
    effort_number: book.efforts.length + 1,
    start_us: closed.start_us,
    end_us: closed.end_us,
    peak_us: closed.peak_us,
    peak_N: closed.peak_N,
    valley_N: book.efforts.length === 0 ? null : closed.valley_N,
    impulse_N_s: closed.impulse_N_s,
    muscle_action: closed.muscle_action,
    floor_N: closed.verdict?.floor_N ?? floor_N,
    below_floor: closed.verdict?.below ?? (judged ? closed.peak_N < floor_N : null),
    counted,
    brief,
    decides: deciding,
  };
  const efforts = [...book.efforts, effort];
  if (!counted) return { book: { ...book, efforts }, effort };
  const decidingEfforts = efforts.filter((other) => other.counted && other.decides);
  return {
    effort,
    book: {
      efforts,
      decided_by: book.decided_by ?? decidedBy(setup, closed.muscle_action),
      first_onset_us: book.first_onset_us ?? closed.start_us,
      deciding: count,
      peaks,
      floor_N,
      median_duration_s: medianOf(decidingEfforts.map((other) => (other.end_us - other.start_us) / 1e6)),
      median_spacing_s: medianOf(spacings_s(decidingEfforts)),
      last_peak_N: deciding ? closed.peak_N : book.last_peak_N,
      last_end_us: closed.end_us,
    },
  };
}

function withPeak({ highest_N, second_N }: Peaks, peak_N: number): Peaks {
  if (peak_N > highest_N) return { highest_N: peak_N, second_N: highest_N };
  return { highest_N, second_N: Math.max(second_N, peak_N) };
}

/** An effort that may not raise best still says how far a lone peak before it may stand. */
function heldDownBy(peaks: Peaks, peak_N: number): Peaks {
  const lone = peaks.highest_N > 0 && peaks.second_N === 0;
  return lone ? { highest_N: peaks.highest_N, second_N: Math.min(peaks.highest_N, peak_N) } : peaks;
}

const highest = (a: number | null, b: number | null): number | null => {
  if (a === null || b === null) return a ?? b;
  return Math.max(a, b);
};

function spacings_s(efforts: readonly EffortReport[]): number[] {
  return efforts.slice(1).map((effort, index) => (effort.peak_us - (efforts[index] as EffortReport).peak_us) / 1e6);
}

function medianOf(values: readonly number[]): number | null {
  if (values.length === 0) return null;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  const upper = sorted[middle] as number;
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] as number) + upper) / 2;
}
