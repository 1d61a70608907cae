/**
 * One step of the tracked zero after drift: at most half a d, at most 2 % of capacity from the last asked zero, saved now
 * and then. When it may step is decided in `zero.ts`.
 */
import { shown } from "../outcome.ts";
import { forceOf } from "../scale.ts";
import { dOf_counts, type ShiftStep, saving, type ZeroEffect, type ZeroFacts, type ZeroShift } from "./zero-shift.ts";

const STEP_DIVISIONS = 0.5;
const AUTHORITY = 0.02;
/** Tracked drift is saved in steps of this many d, and no more often than this: neither noise nor a hall that warms and
 * cools is to wear out a memory card. */
const SAVE_DIVISIONS = 0.5;
const SAVE_EVERY_US = 600_000_000;

/** Towards the mean residual of the last window, counts. */
export function follow(held: ZeroShift, at_us: number, mean_counts: number, facts: ZeroFacts): ShiftStep {
  const d_counts = dOf_counts(facts);
  const wanted_counts = held.shift_counts + within(mean_counts, STEP_DIVISIONS * d_counts);
  const authority_counts = AUTHORITY * facts.capacity_N * Math.abs(facts.counts_per_N);
  const { asked_shift_counts } = held;
  const from_asked = within(wanted_counts - asked_shift_counts, authority_counts);
  const shift_counts = asked_shift_counts + from_asked;
  const out_of_range = Math.abs(wanted_counts - asked_shift_counts) > authority_counts;
  const effects: ZeroEffect[] = [];
  const far = Math.abs(shift_counts - held.saved_shift_counts) >= SAVE_DIVISIONS * d_counts;
  const since_us = at_us - held.tracking_saved_at_us;
  // Before it: the line's time has begun anew.
  const saves = far && !(since_us >= 0 && since_us < SAVE_EVERY_US);
  if (saves) effects.push(saving({ shift_counts, asked_shift_counts }, facts, "tracked"));
  if (out_of_range !== held.out_of_range) {
    const detail = out_of_range ? outOfRange(from_asked, facts) : "";
    effects.push({ do: "alarm", code: "zero-out-of-range", on: out_of_range, detail });
  }
  const saved = saves ? { saved_shift_counts: shift_counts, tracking_saved_at_us: at_us } : null;
  return { held: { ...held, shift_counts, out_of_range, ...saved }, effects };
}

function outOfRange(drift_counts: number, facts: ZeroFacts): string {
  const drift_N = shown(Math.abs(forceOf(drift_counts, 0, facts.counts_per_N)));
  return `The zero has drifted ${drift_N} N since it was last asked for: unload the machine, look at it, then zero.`;
}

function within(value: number, limit: number): number {
  return Math.min(limit, Math.max(-limit, value));
}
