/** What was read with nothing on, before and after each series, N. */
import type { Check } from "../record.ts";
import { division_N } from "../scale.ts";

export interface ZeroReturn {
  readonly series: number;
  /** null: not tried. */
  readonly before_N: number | null;
  readonly after_N: number | null;
  /**
   * What the series left behind: after less before, and without a before what is read after it. A zero that stood off all
   * along is no error of the return; it is in every error of the loads. null: nothing was read after the series.
   */
  readonly return_N: number | null;
}

/** By series. */
export function zeroReturnsOf(checks: readonly Check[]): readonly ZeroReturn[] {
  const empty = checks.filter(({ force_N }) => force_N === 0);
  const series = [...new Set(empty.map((check) => check.series))].sort((a, b) => a - b);
  return series.map((number) => {
    const read = (loading: Check["loading"]): number | null =>
      meanOrNull(
        empty
          .filter((check) => check.series === number && check.loading === loading)
          .map(({ indicated_force_N }) => indicated_force_N)
          .sort((a, b) => a - b),
      );
    const before_N = read("increasing");
    const after_N = read("decreasing");
    return { series: number, before_N, after_N, return_N: after_N === null ? null : after_N - (before_N ?? 0) };
  });
}

/** f0 of ISO 7500-1: the largest return, by size, as a fraction of the largest force; null: not tried. */
export function zeroErrorOf(zeros: readonly ZeroReturn[], largest_N: number): number | null {
  const sizes = zeros.flatMap(({ return_N }) => (return_N === null ? [] : [Math.abs(return_N)]));
  return sizes.length === 0 || !(largest_N > 0) ? null : Math.max(...sizes) / largest_N;
}

/** What whoever reads the errors must know of a zero that stood off, in one sentence; null: it stood well. */
export function zeroRemark(zeros: readonly ZeroReturn[], cell_capacity_N: number): string | null {
  const off_N = zeros.map(({ before_N }) => before_N ?? 0).reduce((a, b) => (Math.abs(b) > Math.abs(a) ? b : a), 0);
  if (Math.abs(off_N) <= division_N(cell_capacity_N)) return null;
  return `With nothing on it read ${off_N.toFixed(1)} N before a load was hung, which is in every error: zero the station, then check again.`;
}

const meanOrNull = (values: readonly number[]): number | null =>
  values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
