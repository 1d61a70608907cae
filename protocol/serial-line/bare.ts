/**
 * The `bare` dialect: boards that already print one signed integer a line. Pure: `(state, line) -> (state, events)`.
 *
 * Such a line has no time, so it runs in host time. Readings are made at a steady rate but arrive late by however long
 * they waited on the way: a USB adapter hands them over every 16 ms or so, a busy host later still. Nothing arrives
 * early. So time is a straight line below the arrivals that touches the earliest of them: one measured period a
 * reading, moved down at once where it would be ahead of an arrival, moved up once a window when even the least late
 * reading of it was late. How much it had to be moved says how wrong the period is.
 */
import { SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS } from "../units.ts";
import { type LineEvent, NO_EVENTS, NO_REJECTS, type RejectCounts } from "./events.ts";
import { LINE_CAP_BYTES, type Reject } from "./lines.ts";

/** What a line without time, count and check sum leaves unseen. For people: status, self-test, hardware notes. */
export const BARE_CANNOT_DETECT: readonly string[] = [
  "a reading that was lost or came twice, until the measured rate shows it",
  "a digit that was lost or changed on the way: what is left is still a number",
  "a restart of the board, and anything it did to zero, gain or filtering in it",
  "the true time of a reading: delays that all readings share, and gaps shorter than about 0.1 s",
  "which board is on the line, its gain and its rate: swapped boards look alike",
  "a silent amplifier, where the board repeats its last value",
  "muscle action, keys and tags; and there are no lamps to answer with",
];

export interface BareSource {
  readonly dialect: "bare";
  /** cut: before the first LF of an open. fresh: no reading yet. measuring: the rate is not known, time is arrival. */
  readonly mode: "closed" | "cut" | "fresh" | "measuring" | "steady";
  /** Time of the last reading, as given out. */
  readonly at_us: number;
  readonly arrived_at_us: number;
  /** Where the straight line stands at the last reading; fractions of a microsecond add up. */
  readonly smooth_us: number;
  readonly period_us: number;
  readonly window: Window;
  /** Windows the period was measured over. */
  readonly windows: number;
  readonly rejects: RejectCounts;
}

interface Window {
  readonly began_at_us: number;
  readonly readings: number;
  /** How late the least late of them was. */
  readonly least_late_us: number;
  /** How far the line was moved down in all. */
  readonly lowered_us: number;
}

export interface BareStep {
  readonly state: BareSource;
  readonly events: readonly LineEvent[];
}

const WINDOW_US = 1_000_000;
const WINDOW_READINGS = 8;
/** The share of a window's error the period takes on, once many windows have been averaged. */
const LEAST_SHARE = 1 / 16;
/** Off by more in one window: the rate has changed, and what was averaged before says nothing about it. */
const CHANGED_PERIODS = 2;
/** Longer than an adapter's timer lets anything wait: 16 ms is usual, 32 ms seen. */
const LONGEST_WAIT_US = 40_000;
/** Rate and timer may beat for seconds, all readings of a window having waited: once found, the line rises slowly. */
const SLOW_RISE = 4;
const FINDING_WINDOWS = 5;
/** Later still, when all that had waited has been read: there was a gap. */
const GAP_US = 100_000;
const GAP_PERIODS = 3;
/** Nothing for this long is a break: no line is drawn across it. */
const BREAK_US = 1_000_000;
const BREAK_PERIODS = 10;

const INTEGER = /^[ \t]*([+-]?[0-9]{1,20})[ \t]*\r?$/;

export const BARE_CLOSED: BareSource = {
  dialect: "bare",
  mode: "closed",
  at_us: 0,
  arrived_at_us: 0,
  smooth_us: 0,
  period_us: 0,
  window: windowFrom(0),
  windows: 0,
  rejects: NO_REJECTS,
};

export function openBare(state: BareSource): BareStep {
  return { state: { ...state, mode: "cut" }, events: [{ kind: "epoch", because: "opened" }] };
}

export function readBare(state: BareSource, text: string, arrived_at_us: number): BareStep {
  if (state.mode === "closed") return { state, events: NO_EVENTS };
  if (state.mode === "cut") return { state: { ...state, mode: "fresh" }, events: NO_EVENTS };
  if (text === "" || text === "\r") return { state, events: NO_EVENTS };
  const counts = countsOf(text);
  if (typeof counts === "string") {
    const rejects = { ...state.rejects, [counts]: state.rejects[counts] + 1 };
    return { state: { ...state, rejects }, events: [{ kind: "rejected", reject: counts }] };
  }
  const next = timed(state, arrived_at_us);
  return {
    state: next,
    events: [{ kind: "reading", at_us: next.at_us, counts, muscle_action: null, lost: 0 }],
  };
}

function countsOf(text: string): number | Reject {
  if (text.length > LINE_CAP_BYTES) return "too-long";
  const digits = INTEGER.exec(text)?.[1];
  if (digits === undefined) return "bad-field";
  const counts = Number(digits) + 0;
  return counts >= SATURATED_LOW_COUNTS && counts <= SATURATED_HIGH_COUNTS ? counts : "out-of-range";
}

function windowFrom(began_at_us: number): Window {
  return { began_at_us, readings: 0, least_late_us: Number.POSITIVE_INFINITY, lowered_us: 0 };
}

const isFull = (window: Window, at_us: number): boolean =>
  window.readings >= WINDOW_READINGS && at_us - window.began_at_us >= WINDOW_US;

function timed(state: BareSource, arrived_at_us: number): BareSource {
  if (state.mode === "fresh") return begin(state, arrived_at_us);
  return state.mode === "steady" ? onTheLine(state, arrived_at_us) : measure(state, arrived_at_us);
}

/** Time starts again at an arrival, with the rate to be measured. */
function begin(state: BareSource, arrived_at_us: number): BareSource {
  const at_us = arrivalOf(state, arrived_at_us);
  return { ...state, mode: "measuring", at_us, arrived_at_us, window: windowFrom(arrived_at_us), windows: 0 };
}

/** `arrived_at_us` never goes back: it is the host's monotonic clock. */
function arrivalOf(state: BareSource, arrived_at_us: number): number {
  return Math.max(state.at_us, Math.floor(arrived_at_us));
}

function measure(state: BareSource, arrived_at_us: number): BareSource {
  // Arrivals after a break say nothing about the rate.
  if (arrived_at_us - state.arrived_at_us > BREAK_US) return begin(state, arrived_at_us);
  const window = { ...state.window, readings: state.window.readings + 1 };
  const next = { ...state, at_us: arrivalOf(state, arrived_at_us), arrived_at_us, window };
  if (!isFull(window, arrived_at_us)) return next;
  return {
    ...next,
    mode: "steady",
    smooth_us: arrived_at_us,
    period_us: (arrived_at_us - window.began_at_us) / window.readings,
    window: windowFrom(arrived_at_us),
    windows: 1,
  };
}

function onTheLine(state: BareSource, arrived_at_us: number): BareSource {
  const { period_us, window } = state;
  const was_late_us = state.arrived_at_us - state.smooth_us;
  const expected_us = state.smooth_us + period_us;
  if (arrived_at_us - expected_us > Math.max(BREAK_US, BREAK_PERIODS * period_us)) {
    return begin(state, arrived_at_us);
  }
  // What had waited has been read, and even the last of it was late: it was made late. Readings that come together
  // with the one before cannot say so.
  const drained = arrived_at_us - state.arrived_at_us > period_us / 2;
  const gap_us = drained && was_late_us > Math.max(GAP_US, GAP_PERIODS * period_us) ? was_late_us : 0;
  const late_us = arrived_at_us - expected_us - gap_us;
  const on_us = late_us < 0 ? arrived_at_us : expected_us + gap_us;
  const so_far: Window = {
    began_at_us: window.began_at_us,
    readings: window.readings + 1,
    least_late_us: Math.min(window.least_late_us, Math.max(0, late_us)),
    lowered_us: window.lowered_us + Math.max(0, -late_us),
  };
  const next: BareSource = {
    dialect: "bare",
    mode: "steady",
    at_us: Math.max(state.at_us, Math.floor(on_us)),
    arrived_at_us,
    smooth_us: on_us,
    period_us,
    window: so_far,
    windows: state.windows,
    rejects: state.rejects,
  };
  return isFull(so_far, arrived_at_us) ? corrected(next) : next;
}

/**
 * A whole window: the line goes up towards the least late reading, and the period takes its share of the error. The shares are
 * those of a running mean, so that the period is what lies between the first window and this one. The first window only
 * finds the line: it began at an arrival that may have been late.
 */
function corrected(state: BareSource): BareSource {
  const { readings, least_late_us, lowered_us } = state.window;
  const at_once = state.windows <= FINDING_WINDOWS || least_late_us > LONGEST_WAIT_US;
  const raised_us = at_once ? least_late_us : least_late_us / SLOW_RISE;
  const error_us = raised_us - lowered_us;
  const windows = Math.abs(error_us) > CHANGED_PERIODS * state.period_us ? Math.min(2, state.windows) : state.windows;
  const share = windows === 1 ? 0 : Math.max(LEAST_SHARE, 1 / (windows - 1));
  return {
    ...state,
    smooth_us: state.smooth_us + raised_us,
    period_us: state.period_us + (share * error_us) / readings,
    window: windowFrom(state.arrived_at_us),
    windows: windows + 1,
  };
}
