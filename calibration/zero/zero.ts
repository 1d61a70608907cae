/**
 * The zero in use: the calibrated zero plus a shift that follows slow drift while nobody is there, and jumps only when
 * somebody asks. The limits have the shape of a weighing instrument's (OIML R 76); this is not one.
 *
 * d is a 5000th of the cell's capacity. Tracking moves the shift by at most half a d in ten seconds, from the mean of
 * those ten seconds, and only when the station has been idle, still and within 2 d of zero for a minute; never further
 * than 2 % of capacity from the last asked zero. A saved shift is taken up again as it was: nothing is zeroed by
 * starting or reconnecting. Asked zeros and the hand that was on one are in `asked-zero.ts`; a rest that lies elsewhere,
 * which tracking must not take, is in `zero-moved.ts`.
 *
 * Device time in us, median-filtered counts, one call a reading. `idle` is the station's word that nobody is armed or
 * in a set. All limits are compared in counts or newtons without a sign of the scale: reversed wires are the same.
 */

import { type Refused, refusal, shown } from "../outcome.ts";
import { dropAsking, newAsking, stepAsking, stepWatch } from "./asked-zero.ts";
import { type Away, backAtRest, inspected, stepAway } from "./zero-moved.ts";
import {
  dOf_counts,
  type FoundZero,
  type ZeroEffect,
  type ZeroFacts,
  type ZeroReading,
  type ZeroShift,
} from "./zero-shift.ts";
import { follow } from "./zero-tracking.ts";

const QUIET_US = 60_000_000;
const TRACK_WINDOW_US = 10_000_000;
const TRACK_BAND_DIVISIONS = 2;
/** After a set people let go, get up and move the lever, and the cell creeps back fastest: nobody zeroes into that. */
const HOLD_OFF_US = 10_000_000;
const GAP_US = 300_000;

export interface Zero {
  /** Time of the last reading; NaN: none in this epoch. */
  readonly at_us: number;
  /** Since when the station has been idle, still and near zero; every reading before this one counts. */
  readonly quiet_since_us: number;
  readonly window_since_us: number;
  readonly window_sum_counts: number;
  readonly window_readings: number;
  /** No asked zero before this time. */
  readonly free_at_us: number;
  /** The sensor rests elsewhere, or something on it; null: it does not. */
  readonly away: Away | null;
  readonly held: ZeroShift;
}

export type ZeroInput =
  | ZeroReading
  | {
      readonly kind: "zero";
      readonly request: string;
      readonly confirm: boolean;
      readonly performed_by: string | null;
    }
  /** Somebody has looked at the cell and what holds it. */
  | { readonly kind: "inspected" }
  /** No readings for now, or device time begins anew. `detail` is one sentence. */
  | { readonly kind: "interrupted"; readonly detail: string };

export interface ZeroStep {
  readonly state: Zero;
  readonly effects: readonly ZeroEffect[];
}

const NOTHING: readonly ZeroEffect[] = [];

/**
 * The zero as it was saved, or the calibrated one where nothing was saved or another calibration is in force. The alarm of one
 * that is still to be inspected is for the caller to raise.
 */
export function startZero(saved: FoundZero | null, facts: ZeroFacts): Zero {
  const known = saved !== null && saved.calibration_id === facts.calibration_id ? saved : null;
  const shift_counts = known?.shift_counts ?? 0;
  return unseen({
    shift_counts,
    asked_shift_counts: known?.asked_shift_counts ?? 0,
    saved_shift_counts: shift_counts,
    tracking_saved_at_us: Number.NaN,
    out_of_range: false,
    suspect: false,
    stood: known !== null,
    moved: known?.moved === undefined ? null : "asked",
    asking: null,
    offer: null,
    watch: null,
  });
}

/** Counts that read as zero force now. */
export function zeroInUse_counts(state: Zero, facts: ZeroFacts): number {
  return facts.zero_counts + state.held.shift_counts;
}

/** How far the zero in use stands from the calibrated one, N. */
export function zeroShift_N(state: Zero, facts: ZeroFacts): number {
  return state.held.shift_counts / facts.counts_per_N;
}

/** Whether a `zero` with `confirm` would now confirm something. */
export function awaitsConfirming(state: Zero): boolean {
  return standingOffer_counts(state) !== null;
}

function standingOffer_counts({ at_us, held: { offer } }: Zero): number | null {
  return offer !== null && at_us <= offer.until_us ? offer.shift_counts : null;
}

export function stepZero(state: Zero, input: ZeroInput, facts: ZeroFacts): ZeroStep {
  switch (input.kind) {
    case "reading":
      return reading(state, input, facts);
    case "zero":
      return ask(state, input);
    case "inspected": {
      const { held, effects } = inspected(state.held);
      return { state: { ...state, away: null, held }, effects };
    }
    case "interrupted": {
      const { held, effects } = dropAsking(state.held, "sensor-fault", input.detail);
      return { state: unseen({ ...held, offer: null, watch: held.suspect ? held.watch : null }), effects };
    }
  }
}

function unseen(held: ZeroShift): Zero {
  return {
    at_us: Number.NaN,
    quiet_since_us: Number.NaN,
    window_since_us: Number.NaN,
    window_sum_counts: 0,
    window_readings: 0,
    free_at_us: Number.NEGATIVE_INFINITY,
    away: null,
    held,
  };
}

function ask(state: Zero, input: Extract<ZeroInput, { kind: "zero" }>): ZeroStep {
  const { at_us, held } = state;
  const { request, confirm, performed_by } = input;
  const why = refusedAtOnce(state);
  if (why !== null) return { state, effects: [{ do: "answer", request, outcome: why }] };
  const confirms_counts = confirm ? standingOffer_counts(state) : null;
  const asking = newAsking(request, performed_by, confirms_counts, at_us);
  return { state: { ...state, held: { ...held, offer: null, asking } }, effects: NOTHING };
}

function refusedAtOnce(state: Zero): Refused | null {
  if (Number.isNaN(state.at_us)) {
    return refusal("sensor-fault", "No readings come from the sensor.", "Check its cable and power.");
  }
  if (state.held.asking !== null) return refusal("busy", "A zero is being taken.", "Wait for its answer.");
  const wait_s = (state.free_at_us - state.at_us) / 1e6;
  if (wait_s <= 0) return null;
  return refusal(
    "busy",
    "The machine is in use, or was a moment ago.",
    `Zero ${shown(HOLD_OFF_US / 1e6)} s after the set, with nothing and nobody on it.`,
  );
}

function reading(state: Zero, input: ZeroReading, facts: ZeroFacts): ZeroStep {
  const { held } = state;
  if (held.asking === null && held.watch === null) return track(state, input, facts);
  const watched = held.watch === null ? { held, effects: NOTHING } : stepWatch(held, held.watch, input, facts);
  const asked =
    watched.held.asking === null
      ? { held: watched.held, effects: NOTHING }
      : stepAsking(watched.held, watched.held.asking, input, facts);
  const effects = [...watched.effects, ...asked.effects];
  // A shift that jumped makes the window's sum meaningless: the minute of quiet begins again.
  if (asked.held.shift_counts !== held.shift_counts) {
    return { state: disturbed(input.at_us, state.free_at_us, null, asked.held), effects };
  }
  const tracked = track({ ...state, held: asked.held }, input, facts);
  return { state: tracked.state, effects: [...effects, ...tracked.effects] };
}

function track(state: Zero, input: ZeroReading, facts: ZeroFacts): ZeroStep {
  const { at_us, idle } = input;
  const residual_counts = input.counts - facts.zero_counts - state.held.shift_counts;
  const gap_us = at_us - state.at_us;
  const continues = gap_us >= 0 && gap_us <= GAP_US;
  const near = Math.abs(residual_counts) <= TRACK_BAND_DIVISIONS * dOf_counts(facts);
  const free_at_us = idle ? state.free_at_us : at_us + HOLD_OFF_US;
  const still = input.still && continues;
  let { away, held } = state;
  let effects = NOTHING;
  if (!idle) away = null;
  else if (away !== null || !near) {
    const step = stepAway(away, held, { at_us, residual_counts, still }, facts);
    away = step.away;
    held = step.held;
    effects = step.effects;
  }
  if (!(idle && still && near)) return { state: disturbed(at_us, free_at_us, away, held), effects };
  const window_sum_counts = state.window_sum_counts + residual_counts;
  const window_readings = state.window_readings + 1;
  const { quiet_since_us } = state;
  if (at_us - state.window_since_us < TRACK_WINDOW_US) {
    const { window_since_us } = state;
    return {
      state: { at_us, quiet_since_us, window_since_us, window_sum_counts, window_readings, free_at_us, away, held },
      effects,
    };
  }
  const follows = at_us - quiet_since_us >= QUIET_US;
  const back = backAtRest(held);
  const moved = follows ? follow(back.held, at_us, window_sum_counts / window_readings, facts) : back;
  return {
    state: {
      at_us,
      quiet_since_us,
      window_since_us: at_us,
      window_sum_counts: 0,
      window_readings: 0,
      free_at_us,
      away: null,
      held: moved.held,
    },
    effects: follows ? [...effects, ...back.effects, ...moved.effects] : [...effects, ...back.effects],
  };
}

function disturbed(at_us: number, free_at_us: number, away: Away | null, held: ZeroShift): Zero {
  return {
    at_us,
    quiet_since_us: at_us,
    window_since_us: at_us,
    window_sum_counts: 0,
    window_readings: 0,
    free_at_us,
    away,
    held,
  };
}
