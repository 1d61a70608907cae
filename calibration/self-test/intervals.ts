/** The times between readings: how often the amplifier converts, and how evenly its readings come. */
import { medianOf } from "./order.ts";

export interface Intervals {
  /** From the first reading to the last, s. */
  readonly duration_s: number;
  /** The usual time between two readings, s: gaps do not move it. NaN: fewer than two readings. */
  readonly usual_s: number;
  /** Intervals that are neither a gap nor none at all, s: their scatter is the jitter. */
  readonly even_s: readonly number[];
  /** Intervals longer than one and a half usual ones, s. */
  readonly gaps_s: readonly number[];
  /** Readings at the very moment of the one before. */
  readonly together: number;
}

const GAP = 1.5;

export function intervalsOf(at_us: readonly number[]): Intervals {
  const all_s = at_us.slice(1).map((at, index) => (at - at_us[index]!) / 1e6);
  const usual_s = all_s.length === 0 ? Number.NaN : medianOf(all_s);
  return {
    duration_s: at_us.length === 0 ? 0 : (at_us.at(-1)! - at_us[0]!) / 1e6,
    usual_s,
    even_s: all_s.filter((interval) => interval > 0 && interval <= GAP * usual_s),
    gaps_s: all_s.filter((interval) => interval > GAP * usual_s),
    together: all_s.filter((interval) => interval <= 0).length,
  };
}
