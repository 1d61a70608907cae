/**
 * Counts what lies below the floor in a row. What is judged is a deciding effort, or in rest-pause a cluster of them by
 * its higher peak: complete at `efforts_per_cluster`, or once 6 s have passed without another.
 */
import { CLUSTER_GAP_S, type SetSetup } from "./setup.ts";

interface Cluster {
  readonly efforts: number;
  readonly peak_N: number;
  readonly last_end_us: number;
}

export interface Judge {
  readonly below_in_a_row: number;
  readonly cluster: Cluster | null;
}

export const FRESH_JUDGE: Judge = { below_in_a_row: 0, cluster: null };

const verdict = (judge: Judge, below: boolean): Judge => ({
  below_in_a_row: below ? judge.below_in_a_row + 1 : 0,
  cluster: null,
});

/** One counted deciding effort is over, or its peak is certain. `floor_N` null: nothing to be below of yet. */
export function judgeEffort(
  judge: Judge,
  setup: SetSetup,
  peak_N: number,
  end_us: number,
  floor_N: number | null,
): Judge {
  if (setup.style !== "rest-pause") return floor_N === null ? judge : verdict(judge, peak_N < floor_N);
  const efforts = (judge.cluster?.efforts ?? 0) + 1;
  const cluster_N = Math.max(judge.cluster?.peak_N ?? 0, peak_N);
  if (efforts >= setup.options.efforts_per_cluster) {
    return verdict(judge, floor_N !== null && cluster_N < floor_N);
  }
  return { ...judge, cluster: { efforts, peak_N: cluster_N, last_end_us: end_us } };
}

/** No effort is running: a cluster left for 6 s is complete as it is. */
export function judgePause(judge: Judge, at_us: number, floor_N: number | null): Judge {
  const { cluster } = judge;
  if (cluster === null || at_us - cluster.last_end_us < CLUSTER_GAP_S * 1e6) return judge;
  return verdict(judge, floor_N !== null && cluster.peak_N < floor_N);
}

/** Whether the running effort alone settles what it belongs to. */
export function settlesNow(judge: Judge, setup: SetSetup): boolean {
  if (setup.style !== "rest-pause") return true;
  return (judge.cluster?.efforts ?? 0) + 1 >= setup.options.efforts_per_cluster;
}

/** The peak that would be judged if the running effort ended with this one, N. */
export const judgedPeak_N = (judge: Judge, peak_N: number): number => Math.max(judge.cluster?.peak_N ?? 0, peak_N);

export const isOver = (judge: Judge, setup: SetSetup): boolean =>
  judge.below_in_a_row >= setup.options.below_floor_to_stop;
