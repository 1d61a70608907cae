/**
 * Tells from the raw counts when the amplifier itself is at fault: saturated, or stuck on one value. Silence is not
 * seen from here: no reading comes to say it. A faulty reading is never a force and never zero.
 *
 * One wild reading is a spike, which the median of three removes, so a fault needs two saturated readings of three, and
 * goes after three good ones. Stuck is judged on the median of three, so that spikes on a dead line do not hide it:
 * a live 24-bit amplifier never repeats itself for two seconds.
 */
import { median3 } from "./median.ts";
import { isSaturated } from "./scale.ts";

const STUCK_US = 2_000_000;
/** A longer pause between readings is no evidence of a value that stood still. */
const BRIDGED_US = 300_000;

export type AmplifierFaultKind = "saturated" | "stuck";

export interface AmplifierFaults {
  /** The two readings before, and their time; NaN: none yet. */
  readonly before_counts: number;
  readonly last_counts: number;
  readonly last_us: number;
  readonly median_counts: number;
  readonly unchanged_since_us: number;
  /** Saturated readings among the last three, newest in the lowest bit. */
  readonly saturated_bits: number;
  readonly fault: AmplifierFaultKind | null;
}

export type AmplifierInput =
  | { readonly kind: "reading"; readonly at_us: number; readonly counts: number }
  /** The line was opened again or the board restarted: nothing said before holds. */
  | { readonly kind: "epoch" };

export interface AmplifierFaultEvent {
  readonly fault: AmplifierFaultKind;
  readonly on: boolean;
  /** One sentence for a person; empty when the fault goes. */
  readonly detail: string;
}

export interface AmplifierStep {
  readonly state: AmplifierFaults;
  readonly events: readonly AmplifierFaultEvent[];
}

export const AMPLIFIER_UNSEEN: AmplifierFaults = {
  before_counts: Number.NaN,
  last_counts: Number.NaN,
  last_us: Number.NaN,
  median_counts: Number.NaN,
  unchanged_since_us: 0,
  saturated_bits: 0,
  fault: null,
};

const NOTHING: readonly AmplifierFaultEvent[] = [];

/**
 * One raw reading, before any filter. `watch_stuck` is false where the board may average or round (bare integers): a
 * value that repeats is no fault there.
 */
export function stepAmplifierFaults(
  state: AmplifierFaults,
  input: AmplifierInput,
  watch_stuck: boolean,
): AmplifierStep {
  if (input.kind === "epoch") return { state: AMPLIFIER_UNSEEN, events: changed(state.fault, null, 0) };
  const { at_us, counts } = input;
  const median_counts = median3(state.before_counts, state.last_counts, counts);
  const continues = at_us - state.last_us <= BRIDGED_US && at_us >= state.last_us;
  const same = median_counts === state.median_counts && (continues || state.fault === "stuck");
  const unchanged_since_us = same ? state.unchanged_since_us : at_us;
  const saturated_bits = ((state.saturated_bits << 1) | (isSaturated(counts) ? 1 : 0)) & 0b111;
  const fault = faultNow(state.fault, saturated_bits, watch_stuck && at_us - unchanged_since_us >= STUCK_US);
  return {
    state: {
      before_counts: state.last_counts,
      last_counts: counts,
      last_us: at_us,
      median_counts,
      unchanged_since_us,
      saturated_bits,
      fault,
    },
    events: fault === state.fault ? NOTHING : changed(state.fault, fault, counts),
  };
}

function faultNow(before: AmplifierFaultKind | null, bits: number, unchanged: boolean): AmplifierFaultKind | null {
  const more_than_one = (bits & (bits - 1)) !== 0;
  if (more_than_one || (before === "saturated" && bits !== 0)) return "saturated";
  return unchanged ? "stuck" : null;
}

function changed(
  from: AmplifierFaultKind | null,
  to: AmplifierFaultKind | null,
  counts: number,
): readonly AmplifierFaultEvent[] {
  const events: AmplifierFaultEvent[] = [];
  if (from !== null) events.push({ fault: from, on: false, detail: "" });
  if (to !== null) events.push({ fault: to, on: true, detail: detailOf(to, counts) });
  return events;
}

function detailOf(fault: AmplifierFaultKind, counts: number): string {
  return fault === "saturated"
    ? "The amplifier is at the end of its range: check the cell's plug and wires, and that the cell is not overloaded."
    : `The amplifier has repeated ${counts} for 2 s: check the cell's plug and restart the board.`;
}
