/**
 * A zero somebody asked for: one still second, close enough to the calibrated zero, and confirmed when it moves far.
 *
 * Afterwards it is watched for a while. Whoever zeroed with a hand on the lever takes the hand off, and then the force
 * stands below nothing by about what the hand had put there: the former zero comes back. Outside idle the zero never
 * moves, so there the alarm comes at once and the former zero with the next idle reading.
 */
import { forceOut } from "../../protocol/units.ts";
import type { ErrorCode } from "../../protocol/vocabulary.ts";
import { type Outcome, refusal, shown } from "../outcome.ts";
import { division_N, forceOf } from "../scale.ts";
import { movedBefore, movedByAsking } from "./zero-moved.ts";
import {
  type Asking,
  type ShiftStep,
  saving,
  type Watch,
  type ZeroEffect,
  type ZeroFacts,
  type ZeroReading,
  type ZeroShift,
} from "./zero-shift.ts";

const STILL_US = 1_000_000;
/** Long enough for a lever to come to rest under whoever waits beside it. */
const PATIENCE_US = 3_000_000;
const GAP_US = 300_000;
/** Of the cell's capacity, from the calibrated zero. */
const LARGEST_SHIFT = 0.04;
/** A move beyond the larger of these needs confirming. */
const UNCONFIRMED = 0.005;
const UNCONFIRMED_N = 10;
const CONFIRM_WITHIN_US = 5_000_000;
/** How long after an asked zero a hand may still come off, and how long the force must then stand below. */
const WATCH_US = 30_000_000;
const BELOW_US = 1_000_000;
/** Half a shift within this many d is drift, not a hand. */
const WATCHED_DIVISIONS = 4;

export function newAsking(
  request: string,
  performed_by: string | null,
  confirms_counts: number | null,
  at_us: number,
): Asking {
  return {
    request,
    performed_by,
    confirms_counts,
    asked_at_us: at_us,
    last_us: at_us,
    since_us: null,
    sum_counts: 0,
    readings: 0,
    least_counts: Number.POSITIVE_INFINITY,
    most_counts: Number.NEGATIVE_INFINITY,
  };
}

/** Ends a pending question without a zero. */
export function dropAsking(held: ZeroShift, code: ErrorCode, message: string): ShiftStep {
  return held.asking === null ? { held, effects: [] } : answered(held, held.asking, refusal(code, message));
}

export function stepAsking(held: ZeroShift, asking: Asking, reading: ZeroReading, facts: ZeroFacts): ShiftStep {
  const { at_us, counts } = reading;
  if (!reading.idle) return dropAsking(held, "busy", "A set was begun before the zero was taken.");
  const least_counts = Math.min(asking.least_counts, counts);
  const most_counts = Math.max(asking.most_counts, counts);
  const seen = { ...asking, last_us: at_us, least_counts, most_counts };
  if (!reading.still || at_us - asking.last_us > GAP_US) {
    if (at_us - asking.asked_at_us < PATIENCE_US) {
      return { held: { ...held, asking: { ...seen, since_us: null, sum_counts: 0, readings: 0 } }, effects: [] };
    }
    const moved_N = shown(Math.abs(forceOf(most_counts, least_counts, facts.counts_per_N)));
    return answered(
      held,
      asking,
      refusal(
        "not-still",
        `The force moved by ${moved_N} N and was not still for a second.`,
        "Touch nothing, then zero.",
      ),
    );
  }
  const since_us = asking.since_us ?? at_us;
  const sum_counts = asking.sum_counts + counts;
  const readings = asking.readings + 1;
  if (at_us - since_us < STILL_US) {
    return { held: { ...held, asking: { ...seen, since_us, sum_counts, readings } }, effects: [] };
  }
  return decide(held, asking, sum_counts / readings - facts.zero_counts, at_us, facts);
}

function decide(held: ZeroShift, asking: Asking, shift_counts: number, at_us: number, facts: ZeroFacts): ShiftStep {
  const { capacity_N, counts_per_N } = facts;
  const shift_N = shift_counts / counts_per_N;
  if (Math.abs(shift_N) > LARGEST_SHIFT * capacity_N) {
    return answered(
      held,
      asking,
      refusal(
        "out-of-range",
        `The zero would stand ${shown(shift_N)} N from the calibrated one; at most ${shown(LARGEST_SHIFT * capacity_N)} N would do.`,
        "Take everything off the machine and zero again; if nothing is on it, have the sensor looked at and calibrated.",
      ),
    );
  }
  const moved_N = (shift_counts - held.shift_counts) / counts_per_N;
  const free_N = Math.max(UNCONFIRMED * capacity_N, UNCONFIRMED_N);
  const confirmed =
    asking.confirms_counts !== null &&
    Math.abs(shift_counts - asking.confirms_counts) <= free_N * Math.abs(counts_per_N);
  const far = Math.abs(moved_N) > free_N;
  if (far && !confirmed) {
    const offer = { shift_counts, until_us: at_us + CONFIRM_WITHIN_US };
    const message = `The zero would move by ${shown(moved_N)} N, more than ${shown(free_N)} N: it needs confirming.`;
    const hint = "With nothing and nobody on the machine, zero again with confirm within 5 s.";
    return answered({ ...held, offer }, asking, refusal("not-permitted", message, hint));
  }
  return granted(held, asking, { shift_counts, moved_N, far, at_us }, facts);
}

interface Grant {
  readonly shift_counts: number;
  readonly moved_N: number;
  /** So far that it needed confirming. */
  readonly far: boolean;
  readonly at_us: number;
}

function granted(held: ZeroShift, asking: Asking, grant: Grant, facts: ZeroFacts): ShiftStep {
  const { shift_counts, moved_N, far, at_us } = grant;
  const watch: Watch | null =
    moved_N > WATCHED_DIVISIONS * division_N(facts.capacity_N)
      ? {
          former_shift_counts: held.shift_counts,
          former_asked_counts: held.asked_shift_counts,
          former_moved: held.moved,
          moved_N,
          until_us: at_us + WATCH_US,
          below_since_us: null,
        }
      : null;
  const result = {
    zero_shift_N: forceOut(shift_counts / facts.counts_per_N),
    zero_counts: facts.zero_counts + shift_counts,
  };
  const effects: ZeroEffect[] = [
    saving({ shift_counts, asked_shift_counts: shift_counts }, facts, "asked", asking.performed_by),
    { do: "answer", request: asking.request, outcome: { ok: true, result } },
  ];
  if (held.out_of_range) effects.push({ do: "alarm", code: "zero-out-of-range", on: false, detail: "" });
  if (held.suspect) effects.push({ do: "alarm", code: "zero-suspect", on: false, detail: "" });
  const { moved, effects: told } = movedByAsking(held.moved, far ? moved_N : null);
  effects.push(...told);
  return {
    held: {
      shift_counts,
      asked_shift_counts: shift_counts,
      saved_shift_counts: shift_counts,
      tracking_saved_at_us: held.tracking_saved_at_us,
      out_of_range: false,
      suspect: false,
      stood: true,
      moved,
      asking: null,
      offer: null,
      watch,
    },
    effects,
  };
}

export function stepWatch(held: ZeroShift, watch: Watch, reading: ZeroReading, facts: ZeroFacts): ShiftStep {
  if (held.suspect) return { held: reading.idle ? restored(held, watch) : held, effects: [] };
  const { at_us } = reading;
  const force_N = forceOf(reading.counts, facts.zero_counts + held.shift_counts, facts.counts_per_N);
  if (!(force_N < -watch.moved_N / 2)) {
    const over = at_us >= watch.until_us;
    if (!over && watch.below_since_us === null) return { held, effects: [] };
    return { held: { ...held, watch: over ? null : { ...watch, below_since_us: null } }, effects: [] };
  }
  const below_since_us = watch.below_since_us ?? at_us;
  if (at_us - below_since_us < BELOW_US) {
    return { held: { ...held, watch: { ...watch, below_since_us } }, effects: [] };
  }
  const taken_N = shown(watch.moved_N);
  const detail = `A hand seems to have been on the machine when it was zeroed (${taken_N} N): the former zero is back.`;
  const alarm: ZeroEffect = { do: "alarm", code: "zero-suspect", on: true, detail };
  const { moved, effects } = movedBefore(held.moved, watch.former_moved);
  const suspect = { ...held, suspect: true, moved };
  const former = { shift_counts: watch.former_shift_counts, asked_shift_counts: watch.former_asked_counts };
  const save = saving(former, facts, "restored");
  return { held: reading.idle ? restored(suspect, watch) : suspect, effects: [save, alarm, ...effects] };
}

function restored(held: ZeroShift, watch: Watch): ZeroShift {
  return {
    ...held,
    shift_counts: watch.former_shift_counts,
    asked_shift_counts: watch.former_asked_counts,
    saved_shift_counts: watch.former_shift_counts,
    watch: null,
  };
}

function answered(held: ZeroShift, asking: Asking, outcome: Outcome): ShiftStep {
  return { held: { ...held, asking: null }, effects: [{ do: "answer", request: asking.request, outcome }] };
}
