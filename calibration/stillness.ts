/**
 * Whether the sensor is still, and how noisy it is while it is: for zeroing, and for the onset a set must rise above.
 *
 * Works in blocks of a second of device time, so it costs a few additions a reading and asks for no rate. A block is
 * still when its mean stayed where the last one was, nothing left its band, and its noise is a sensor's and not a
 * swinging load's. The bands widen with the block's own noise, so that a poor board can still be zeroed.
 * Feed it median-filtered force in N while nobody works; a pause starts it afresh but keeps the noise it knew.
 *
 * Noise comes from differences three readings apart, divided by the square root of two: drift hardly shows in them, and
 * medians of three that far apart share no reading.
 */
import { division_N } from "./scale.ts";

const BLOCK_US = 1_000_000;
const GAP_US = 300_000;
/** Largest step of the mean between blocks, and half of the largest span within one, in divisions of the cell. */
const STEP_DIVISIONS = 2;
/** Noise above this is movement: half a percent of capacity. */
const NOISE_DIVISIONS = 25;
/** Band within a block in standard deviations; a block of 94 normal readings spans about 5. */
const SPAN_SDS = 8;
/** Neighbours tied by the median of three leave a third of the readings to average over, in each of two blocks. */
const STEP_SDS = 3 * Math.sqrt(6);
/** The noise is averaged over about this many still blocks. */
const REMEMBERED_BLOCKS = 16;

export interface Stillness {
  readonly last_us: number;
  readonly since_us: number;
  readonly readings: number;
  readonly sum_N: number;
  readonly least_N: number;
  readonly most_N: number;
  readonly squares_N2: number;
  readonly differences: number;
  /** The three readings before, newest first; NaN: none. */
  readonly back1_N: number;
  readonly back2_N: number;
  readonly back3_N: number;
  readonly judged: Judged;
}

/** What the last whole block said; changes once a second. */
export interface Judged {
  readonly still: boolean;
  /** Standard deviation of one median-filtered reading; null: never been still. */
  readonly noise_N: number | null;
  readonly still_blocks: number;
  /** Mean of the last block, and how far a reading may lie from it; NaN: no block yet. */
  readonly mean_N: number;
  readonly band_N: number;
}

export const STILLNESS_UNKNOWN: Stillness = afresh(Number.NaN, Number.NaN, {
  still: false,
  noise_N: null,
  still_blocks: 0,
  mean_N: Number.NaN,
  band_N: Number.NaN,
});

function afresh(at_us: number, force_N: number, judged: Judged): Stillness {
  return {
    last_us: at_us,
    since_us: at_us,
    readings: 0,
    sum_N: 0,
    least_N: Number.POSITIVE_INFINITY,
    most_N: Number.NEGATIVE_INFINITY,
    squares_N2: 0,
    differences: 0,
    back1_N: force_N,
    back2_N: Number.NaN,
    back3_N: Number.NaN,
    judged,
  };
}

export function stepStillness(state: Stillness, at_us: number, force_N: number, capacity_N: number): Stillness {
  const gap_us = at_us - state.last_us;
  if (!(gap_us >= 0 && gap_us <= GAP_US)) {
    return afresh(at_us, force_N, { ...state.judged, still: false, mean_N: Number.NaN });
  }
  const difference_N = force_N - state.back3_N;
  const known = !Number.isNaN(difference_N);
  const readings = state.readings + 1;
  const sum_N = state.sum_N + force_N;
  const least_N = Math.min(force_N, state.least_N);
  const most_N = Math.max(force_N, state.most_N);
  const squares_N2 = known ? state.squares_N2 + difference_N * difference_N : state.squares_N2;
  const differences = known ? state.differences + 1 : state.differences;
  const whole = at_us - state.since_us >= BLOCK_US;
  const judged = whole
    ? judge(state.judged, { readings, sum_N, span_N: most_N - least_N, squares_N2, differences }, capacity_N)
    : watched(state.judged, force_N);
  return {
    last_us: at_us,
    since_us: whole ? at_us : state.since_us,
    readings: whole ? 0 : readings,
    sum_N: whole ? 0 : sum_N,
    least_N: whole ? Number.POSITIVE_INFINITY : least_N,
    most_N: whole ? Number.NEGATIVE_INFINITY : most_N,
    squares_N2: whole ? 0 : squares_N2,
    differences: whole ? 0 : differences,
    back1_N: force_N,
    back2_N: state.back1_N,
    back3_N: state.back2_N,
    judged,
  };
}

/** Stillness ends with the first reading outside the band; only a whole block brings it back. */
function watched(judged: Judged, force_N: number): Judged {
  if (!judged.still || Math.abs(force_N - judged.mean_N) <= judged.band_N) return judged;
  return { ...judged, still: false };
}

interface Block {
  readonly readings: number;
  readonly sum_N: number;
  readonly span_N: number;
  readonly squares_N2: number;
  readonly differences: number;
}

function judge(before: Judged, block: Block, capacity_N: number): Judged {
  const d_N = division_N(capacity_N);
  const mean_N = block.sum_N / block.readings;
  const block_noise_N = Math.sqrt(block.squares_N2 / (2 * Math.max(1, block.differences)));
  const band_N = Math.max(2 * STEP_DIVISIONS * d_N, SPAN_SDS * block_noise_N);
  const step_N = Math.max(STEP_DIVISIONS * d_N, (STEP_SDS * block_noise_N) / Math.sqrt(block.readings));
  const still =
    Math.abs(mean_N - before.mean_N) <= step_N && block.span_N <= band_N && block_noise_N <= NOISE_DIVISIONS * d_N;
  if (!still) return { ...before, still, mean_N, band_N };
  const still_blocks = Math.min(before.still_blocks + 1, REMEMBERED_BLOCKS);
  const known_N2 = (before.noise_N ?? 0) ** 2;
  const noise_N = Math.sqrt(known_N2 + (block_noise_N ** 2 - known_N2) / still_blocks);
  return { still, noise_N, still_blocks, mean_N, band_N };
}
