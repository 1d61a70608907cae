/**
 * Whether the sensor came to rest elsewhere than it stood: a step, which tracking must not take. A cell that was hit, a
 * bolt that has turned, or a bag on the handle look the same from here, so somebody is asked to look.
 *
 * Told after a minute of stillness beyond 8 d (0.16 % of capacity). That lets pass what a sound sensor may do during a hard
 * set: the 2 d within which it may have stood before, 3.7 d of creep (OIML R 60 lets a class C cell keep 0.735 of a
 * verification interval after 30 minutes near capacity: 0.0735 % for one of 1000 intervals), and a degree or two of warmth;
 * and it is a third of the half percent that an asked zero has to confirm. Creep is gone after half an hour: what is
 * then still beyond 3 d, which tracking would never take, is told as well. Over once the sensor is back at rest within
 * 2 d, or a zero was asked for.
 *
 * A zero that somebody asked for and confirmed, since it moved far, raises the same alarm: whatever moved the sensor so far
 * wants looking at, though its readings start at zero again. That one stands until somebody says it was inspected, restarts
 * or not.
 */
import { shown } from "../outcome.ts";
import { dOf_counts, type ShiftStep, type ZeroEffect, type ZeroFacts, type ZeroShift } from "./zero-shift.ts";

const STILL_US = 60_000_000;
const STEP_DIVISIONS = 8;
const CREPT_US = 1_800_000_000;
const LATE_DIVISIONS = 3;

/** Since when it rests elsewhere, and the still window that tells how far. */
export interface Away {
  readonly since_us: number;
  /** NaN: not still now. */
  readonly window_since_us: number;
  readonly sum_counts: number;
  readonly readings: number;
}

export interface AwayReading {
  readonly at_us: number;
  /** From the zero in use. */
  readonly residual_counts: number;
  readonly still: boolean;
}

export interface AwayStep extends ShiftStep {
  readonly away: Away;
}

const NOTHING: readonly ZeroEffect[] = [];

/** An idle reading beyond 2 d, or within while the return is not certain. */
export function stepAway(was: Away | null, held: ZeroShift, reading: AwayReading, facts: ZeroFacts): AwayStep {
  const { at_us, residual_counts, still } = reading;
  const since_us = was?.since_us ?? at_us;
  if (!still) return { away: unsettled(since_us), held, effects: NOTHING };
  const goes_on = was !== null && !Number.isNaN(was.window_since_us);
  const window_since_us = goes_on ? was.window_since_us : at_us;
  const sum_counts = (goes_on ? was.sum_counts : 0) + residual_counts;
  const readings = (goes_on ? was.readings : 0) + 1;
  if (at_us - window_since_us < STILL_US) {
    return { away: { since_us, window_since_us, sum_counts, readings }, held, effects: NOTHING };
  }
  const mean_counts = sum_counts / readings;
  const limit = at_us - since_us < CREPT_US ? STEP_DIVISIONS : LATE_DIVISIONS;
  // Where tracking has come to its end, the zero drifts away from it, and is told of as that.
  const open = held.stood && held.moved === null && !held.out_of_range;
  const stepped = open && Math.abs(mean_counts) > limit * dOf_counts(facts);
  if (!stepped) return { away: unsettled(since_us), held, effects: NOTHING };
  const far_N = shown(Math.abs(mean_counts / facts.counts_per_N));
  const detail =
    `The zero stands ${far_N} N from where it last stood: take everything off; ` +
    "if nothing is on it, inspect the cell and what holds it, then zero.";
  return { away: unsettled(since_us), held: { ...held, moved: "stepped" }, effects: [alarm(detail)] };
}

const unsettled = (since_us: number): Away => ({ since_us, window_since_us: Number.NaN, sum_counts: 0, readings: 0 });

/** The sensor was still and within 2 d for ten seconds. */
export function backAtRest(held: ZeroShift): ShiftStep {
  if (held.moved === "stepped") return { held: { ...held, stood: true, moved: null }, effects: [OVER] };
  return { held: held.stood ? held : { ...held, stood: true }, effects: NOTHING };
}

/** A zero that was asked for is granted; `confirmed_N` is how far it moved, null where that needed no confirming. */
export function movedByAsking(was: ZeroShift["moved"], confirmed_N: number | null): Pick<ShiftStep, "effects"> & Moved {
  if (confirmed_N !== null) {
    const far_N = shown(Math.abs(confirmed_N));
    const detail =
      `Zeroed ${far_N} N away from the former zero: ` +
      "inspect the cell and what holds it, then say that it was inspected.";
    return { moved: "asked", effects: [{ ...alarm(detail), until_inspected: true }] };
  }
  return was === "stepped" ? { moved: null, effects: [OVER] } : { moved: was, effects: NOTHING };
}

type Moved = Pick<ZeroShift, "moved">;

/** What the alarm was before a zero that is taken back. */
export const movedBefore = (
  now: ZeroShift["moved"],
  before: ZeroShift["moved"],
): Pick<ShiftStep, "effects"> & Moved => ({
  moved: before === "asked" ? before : null,
  effects: now === null || before === "asked" ? NOTHING : [over(now)],
});

export function inspected(held: ZeroShift): ShiftStep {
  return held.moved === null
    ? { held, effects: NOTHING }
    : { held: { ...held, moved: null }, effects: [over(held.moved)] };
}

const alarm = (detail: string) => ({ do: "alarm", code: "zero-moved", on: true, detail }) as const;
const OVER = { do: "alarm", code: "zero-moved", on: false, detail: "" } as const;
const over = (was: Exclude<ZeroShift["moved"], null>): ZeroEffect =>
  was === "asked" ? { ...OVER, until_inspected: true } : OVER;
