/**
 * Whether the sensor stood still, swung or drifted while it was looked at. Of a sensor that moves all other figures are of the
 * movement, so this is said first.
 */
import type { Found } from "./finding.ts";
import { medianOf } from "./order.ts";
import { lineThrough } from "./sine-fit.ts";
import { amount, digits, newtons } from "./wording.ts";
import type { Yardstick } from "./yardstick.ts";

/** Half-second means further apart than this are movement, in divisions: a fifth of a percent of capacity. */
const MOVED_DIVISIONS = 10;
/** And more than noise moves such means: nine in ten of a hundred lie within 2.6 standard deviations either way. */
const MOVED_SDS = 8;
const BLOCK_S = 0.5;
/** The zero follows by at most half a division in ten seconds; beyond that drift runs away from it. */
const RUNAWAY_DIVISIONS_PER_MIN = 3;
const DRIFTING_DIVISIONS_PER_MIN = 0.5;
/** A line that the means' own scatter may have drawn is no drift. */
const SURE = 6;

interface Block {
  readonly at_s: number;
  readonly mean: number;
  readonly readings: number;
}

/** Means over half a second each; the last, incomplete one is left out. */
export function blocksOf(at_s: readonly number[], counts: readonly number[]): readonly Block[] {
  const from_s = at_s[0] ?? 0;
  const blocks = Math.floor(((at_s.at(-1) ?? 0) - from_s) / BLOCK_S);
  const sums = Array.from({ length: blocks }, () => ({ at: 0, sum: 0, readings: 0 }));
  at_s.forEach((at, index) => {
    const block = sums[Math.floor((at - from_s) / BLOCK_S)];
    if (block === undefined) return;
    block.at += at;
    block.sum += counts[index]!;
    block.readings += 1;
  });
  return sums
    .filter(({ readings }) => readings > 0)
    .map(({ at, sum, readings }) => ({ at_s: at / readings, mean: sum / readings, readings }));
}

/** @param noise_counts standard deviation of one reading. @param zero_counts the zero in use, where there is one. */
export function examineRest(
  blocks: readonly Block[],
  noise_counts: number,
  zero_counts: number | null,
  yardstick: Yardstick,
): Found {
  const { counts_per_N, d_counts } = yardstick;
  const means = blocks.map(({ mean }) => mean);
  const span_counts = Math.max(...means) - Math.min(...means);
  const each = Math.min(...blocks.map(({ readings }) => readings));
  const at_rest_counts = medianOf(means);
  const indicated_force_N =
    counts_per_N === null || zero_counts === null ? null : (at_rest_counts - zero_counts) / counts_per_N;
  const values = { span_counts, span_N: newtons(span_counts, counts_per_N), at_rest_counts, indicated_force_N };
  if (span_counts > MOVED_DIVISIONS * d_counts + (MOVED_SDS * noise_counts) / Math.sqrt(each)) {
    return {
      level: "fault",
      what: `It was not at rest: half-second means lie up to ${amount(span_counts, counts_per_N)} apart, so the other figures are of the movement.`,
      do: "Take hands and load off, let it settle and test again; if it comes again with nothing touching, look for a loose wire or plug at the cell.",
      values,
    };
  }
  const indicated = indicated_force_N === null ? "" : `, at ${digits(indicated_force_N)} N by the zero in use`;
  return {
    level: "good",
    what: `It was at rest: half-second means lie within ${amount(span_counts, counts_per_N)}${indicated}.`,
    do: null,
    values,
  };
}

export function examineDrift(blocks: readonly Block[], yardstick: Yardstick): Found {
  const { counts_per_N, d_counts } = yardstick;
  const at_s = blocks.map((block) => block.at_s);
  const means = blocks.map(({ mean }) => mean);
  const { slope, mean, middle_s } = lineThrough(at_s, means);
  const left = means.reduce((sum, each, index) => sum + (each - mean - slope * (at_s[index]! - middle_s)) ** 2, 0);
  const spread = at_s.reduce((sum, at) => sum + (at - middle_s) ** 2, 0);
  const drift_counts_per_min = 60 * slope;
  const standard_error_counts_per_min = 60 * Math.sqrt(left / Math.max(1, blocks.length - 2) / spread);
  const values = {
    drift_counts_per_min,
    drift_N_per_min: counts_per_N === null ? null : drift_counts_per_min / counts_per_N,
    standard_error_counts_per_min,
  };
  const size = Math.abs(drift_counts_per_min);
  const known = size > SURE * standard_error_counts_per_min;
  const what = `It drifts ${amount(size, counts_per_N)} a minute`;
  if (!known) {
    return {
      level: "good",
      what: `No drift beyond the scatter: ${amount(size, counts_per_N)} a minute, give or take ${amount(standard_error_counts_per_min, counts_per_N)}.`,
      do: null,
      values,
    };
  }
  if (size <= DRIFTING_DIVISIONS_PER_MIN * d_counts) {
    return { level: "good", what: `${what}, which the zero follows by itself.`, do: null, values };
  }
  const runaway = size > RUNAWAY_DIVISIONS_PER_MIN * d_counts;
  return {
    level: runaway ? "fault" : "notice",
    what: `${what}, ${runaway ? "faster than the zero can follow" : "which the zero still follows"}.`,
    do: "Let the electronics warm up for 15 minutes with nothing on the cell, keep draught and sun off it, and test again; if it goes on, check the supply and the cell for moisture.",
    values,
  };
}
