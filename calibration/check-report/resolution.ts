/**
 * The resolution r of the indication: one count, or what noise leaves of it, whichever is larger.
 *
 * Where an unloaded indication fluctuates by more than its own step, half of the range it fluctuates over takes the step's
 * place (ISO 7500-1, from memory). Half of a still window's range is about three standard deviations of a reading.
 */
import type { Check } from "../record.ts";

const HALF_RANGE_SDS = 3;

export interface Resolution {
  readonly resolution_N: number;
  readonly from: "noise" | "count";
}

/** From the windows with nothing on, where there were any, else from all. */
export function resolutionOf(checks: readonly Check[], counts_per_N: number): Resolution {
  const empty = checks.filter(({ force_N }) => force_N === 0);
  const noises = (empty.length > 0 ? empty : checks).map(({ noise_counts }) => noise_counts);
  const noise_counts = HALF_RANGE_SDS * Math.max(0, ...noises);
  const from = noise_counts > 1 ? "noise" : "count";
  return { resolution_N: Math.max(1, noise_counts) / Math.abs(counts_per_N), from };
}
