/**
 * The zero in use: the calibrated zero plus a shift that follows slow drift while nobody is there, and jumps only when
 * somebody asks. The limits have the shape of a weighing instrument's (OIML R 76); this is not one.
 *
 * d is a 5000th of the cell's capacity. Tracking moves the shift by at most half a d in ten seconds, from the mean of
 * those ten seconds, and only when the station has been idle, still and within 2 d of zero for a minute; never further
 * than 2 % of capacity from the last asked zero. A saved shift is taken up again as it was: nothing is zeroed by
 * starting or reconnecting. Asked zeros and the hand that was on one are in `asked-zero.ts`.
 *
 * Device time in us, median-filtered counts, one call a reading. `idle` is the station's word that nobody is armed or
 * in a set. All limits are compared in counts or newtons without a sign of the scale: reversed wires are the same.
 */
import { dropAsking, newAsking, stepAsking, stepWatch } from "./asked-zero.ts";
import { type Refused, refusal, shown } from "./outcome.ts";
import { division_N, forceOf } from "./scale.ts";
import {
  type KeptZero,
  type ShiftStep,
  saving,
  type ZeroEffect,
  type ZeroFacts,
  type ZeroReading,
  type ZeroShift,
} from "./zero-shift.ts";

const QUIET_US = 60_000_000;
const TRACK_WINDOW_US = 10_000_000;
const TRACK_BAND_DIVISIONS = 2;
const TRACK_STEP_DIVISIONS = 0.5;
const TRACK_AUTHORITY = 0.02;
/** Tracked drift is saved in steps of this many d, and no more often than this: neither noise nor a hall that warms and
 * cools is to wear out a memory card. */
const SAVE_DIVISIONS = 0.5;
const SAVE_EVERY_US = 600_000_000;
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
  readonly held: ZeroShift;
}

export type ZeroInput =
  | ZeroReading
  | { readonly kind: "zero"; readonly request: string; readonly confirm: boolean }
  /** No readings for now, or device time begins anew. `detail` is one sentence. */
  | { readonly kind: "interrupted"; readonly detail: string };

export interface ZeroStep {
  readonly state: Zero;
  readonly effects: readonly ZeroEffect[];
}

const NOTHING: readonly ZeroEffect[] = [];

/** The zero as it was saved, or the calibrated one where nothing was saved or another calibration is in force. */
export function startZero(saved: KeptZero | null, facts: ZeroFacts): Zero {
  const known = saved !== null && saved.calibration_id === facts.calibration_id ? saved : null;
  const shift_counts = known?.shift_counts ?? 0;
  return unseen({
    shift_counts,
    asked_shift_counts: known?.asked_shift_counts ?? 0,
    saved_shift_counts: shift_counts,
    tracking_saved_at_us: Number.NaN,
    out_of_range: false,
    suspect: false,
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
      return ask(state, input.request, input.confirm);
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
    held,
  };
}

function ask(state: Zero, request: string, confirm: boolean): ZeroStep {
  const { at_us, held } = state;
  const why = refusedAtOnce(state);
  if (why !== null) return { state, effects: [{ do: "answer", request, outcome: why }] };
  const confirms_counts = confirm ? standingOffer_counts(state) : null;
  return {
    state: { ...state, held: { ...held, offer: null, asking: newAsking(request, confirms_counts, at_us) } },
    effects: NOTHING,
  };
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
    return { state: disturbed(input.at_us, state.free_at_us, asked.held), effects };
  }
  const tracked = track({ ...state, held: asked.held }, input, facts);
  return { state: tracked.state, effects: [...effects, ...tracked.effects] };
}

function track(state: Zero, input: ZeroReading, facts: ZeroFacts): ZeroStep {
  const { at_us, idle } = input;
  const residual_counts = input.counts - facts.zero_counts - state.held.shift_counts;
  const d_counts = dOf_counts(facts);
  const gap_us = at_us - state.at_us;
  const continues = gap_us >= 0 && gap_us <= GAP_US;
  const near = Math.abs(residual_counts) <= TRACK_BAND_DIVISIONS * d_counts;
  const free_at_us = idle ? state.free_at_us : at_us + HOLD_OFF_US;
  if (!(idle && input.still && near && continues)) {
    return { state: disturbed(at_us, free_at_us, state.held), effects: NOTHING };
  }
  const window_sum_counts = state.window_sum_counts + residual_counts;
  const window_readings = state.window_readings + 1;
  const { quiet_since_us } = state;
  if (at_us - state.window_since_us < TRACK_WINDOW_US) {
    const { window_since_us, held } = state;
    return {
      state: { at_us, quiet_since_us, window_since_us, window_sum_counts, window_readings, free_at_us, held },
      effects: NOTHING,
    };
  }
  const follows = at_us - quiet_since_us >= QUIET_US;
  const moved = follows ? follow(state.held, at_us, window_sum_counts / window_readings, facts) : null;
  return {
    state: {
      at_us,
      quiet_since_us,
      window_since_us: at_us,
      window_sum_counts: 0,
      window_readings: 0,
      free_at_us,
      held: moved?.held ?? state.held,
    },
    effects: moved?.effects ?? NOTHING,
  };
}

function disturbed(at_us: number, free_at_us: number, held: ZeroShift): Zero {
  return {
    at_us,
    quiet_since_us: at_us,
    window_since_us: at_us,
    window_sum_counts: 0,
    window_readings: 0,
    free_at_us,
    held,
  };
}

const dOf_counts = ({ capacity_N, counts_per_N }: ZeroFacts): number => division_N(capacity_N) * Math.abs(counts_per_N);

/** One step of tracking towards the mean residual of the last window. */
function follow(held: ZeroShift, at_us: number, mean_counts: number, facts: ZeroFacts): ShiftStep {
  const d_counts = dOf_counts(facts);
  const most_counts = TRACK_STEP_DIVISIONS * d_counts;
  const wanted_counts = held.shift_counts + within(mean_counts, most_counts);
  const authority_counts = TRACK_AUTHORITY * facts.capacity_N * Math.abs(facts.counts_per_N);
  const from_asked = within(wanted_counts - held.asked_shift_counts, authority_counts);
  const shift_counts = held.asked_shift_counts + from_asked;
  const out_of_range = Math.abs(wanted_counts - held.asked_shift_counts) > authority_counts;
  const effects: ZeroEffect[] = [];
  const far = Math.abs(shift_counts - held.saved_shift_counts) >= SAVE_DIVISIONS * d_counts;
  const since_us = at_us - held.tracking_saved_at_us;
  // Before it: the line's time has begun anew.
  const saves = far && !(since_us >= 0 && since_us < SAVE_EVERY_US);
  if (saves) effects.push(saving(shift_counts, held.asked_shift_counts, facts));
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
