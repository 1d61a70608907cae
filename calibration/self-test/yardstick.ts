/**
 * What a station's readings are measured against, in counts: a division of the cell, and the drop a stop is called on.
 *
 * Without a scale in force a cell of 2 mV/V at capacity is assumed, the commonest (common practice, no source). Its counts do
 * not depend on the supply, which is the amplifier's reference too: 2 mV/V x gain x 2^24 / 1000, 4 294 967 at gain 128.
 */
import { division_N } from "../scale.ts";
import type { SensorFacts } from "./sample.ts";

const ASSUMED_MV_PER_V = 2;
const USUAL_GAIN = 128;
/** The smallest fatigue threshold there is: the stop is called when this share of the best is lost. */
const LEAST_DROP = 0.1;
const NOISE_SHARE = 1 / 5;

export interface Yardstick {
  /** Of the record in force; null: there is none. */
  readonly counts_per_N: number | null;
  /** One division d of the cell, counts. */
  readonly d_counts: number;
  /** The smallest sensible drop at working force, counts. */
  readonly drop_counts: number;
  /**
   * The most noise that a smoothed force may have, counts: a fifth of that drop. Then the best of some hundred smoothed
   * values lies 2.5 standard deviations too high by noise alone (2.508 for 100, tables of normal order statistics), which is
   * half of the drop, and of a force that is half way down to the floor 0.6 % of values are below it.
   */
  readonly allowed_counts: number;
  /** Whether counts were turned into forces by an assumed cell. */
  readonly assumed: boolean;
}

export function yardstickOf(facts: SensorFacts): Yardstick {
  const { cell_capacity_N, counts_per_N } = facts;
  const assumed_counts_per_N = (ASSUMED_MV_PER_V * (facts.gain ?? USUAL_GAIN) * 2 ** 24) / 1000 / cell_capacity_N;
  const per_N = Math.abs(counts_per_N ?? assumed_counts_per_N);
  const drop_counts = LEAST_DROP * facts.working_force_N * per_N;
  return {
    counts_per_N,
    d_counts: division_N(cell_capacity_N) * per_N,
    drop_counts,
    allowed_counts: NOISE_SHARE * drop_counts,
    assumed: counts_per_N === null,
  };
}
