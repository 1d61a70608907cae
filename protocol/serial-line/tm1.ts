/**
 * A source of `tm1` lines: epochs, unwrapped time, what was lost, restarts, and doubt. Pure: `(state, line) -> (state,
 * events)`. Layout and grammar: TM1.md.
 *
 * - Bytes before the first LF after an open belong to a line whose beginning nobody saw: dropped, not counted.
 * - A hello is the answer to `identify` when it has the boot of this epoch and follows from the line before it. Any
 *   other is a restart: a conforming board has a new boot at every start.
 * - A line that cannot follow the one before raises doubt: `identify-wanted`, and readings are set aside (they count as
 *   lost) until a hello settles it. Keys, tags, faults and answers still pass, at the last time that was sure: a key
 *   may be the one that ends a set. An unanswered question is asked again.
 * - An answer in an epoch without a hello asks for one at once, too; later answers and its other lines ever more seldom.
 */
import { decodeDeviceLine, type RejectedLine } from "./decode.ts";
import { type LineEvent, NO_EVENTS, NO_REJECTS, type RejectCounts } from "./events.ts";
import type { DeviceLine, HelloLine } from "./lines.ts";
import { isOrdinary, isPossible, linesOn, microsOn } from "./stride.ts";

export interface Tm1Source {
  readonly dialect: "tm1";
  /** cut: before the first LF of an open. fresh: no line of this epoch yet. doubt: waiting for a hello. */
  readonly mode: "closed" | "cut" | "fresh" | "running" | "doubt";
  /** Of the last line that was sure, with its time and its arrival. */
  readonly seq: number;
  readonly t_us: number;
  readonly at_us: number;
  readonly arrived_at_us: number;
  /** Lines lost since the last reading. */
  readonly lost: number;
  /** Of this epoch's hello; null before it. */
  readonly boot: string | null;
  /** Lines that came while in doubt. */
  readonly heard: number;
  readonly asked_at_us: number;
  /** Before a hello: how long after the last question the next one is. */
  readonly ask_wait_us: number;
  readonly rejects: RejectCounts;
}

export interface Tm1Step {
  readonly state: Tm1Source;
  readonly events: readonly LineEvent[];
}

const ASK_AGAIN_US = 2_000_000;
/** After an open the host asks by itself, twice within 2 s. */
const FIRST_ASK_WAIT_US = 4_000_000;
const LONGEST_ASK_WAIT_US = 32_000_000;

export const TM1_CLOSED: Tm1Source = {
  dialect: "tm1",
  mode: "closed",
  seq: 0,
  t_us: 0,
  at_us: 0,
  arrived_at_us: 0,
  lost: 0,
  boot: null,
  heard: 0,
  asked_at_us: 0,
  ask_wait_us: FIRST_ASK_WAIT_US,
  rejects: NO_REJECTS,
};

export function openTm1(state: Tm1Source): Tm1Step {
  const opened: Tm1Source = { ...state, mode: "cut", lost: 0, boot: null, heard: 0, ask_wait_us: FIRST_ASK_WAIT_US };
  return { state: opened, events: [{ kind: "epoch", because: "opened" }] };
}

export function readTm1(state: Tm1Source, text: string, arrived_at_us: number): Tm1Step {
  if (state.mode === "closed") return { state, events: NO_EVENTS };
  if (state.mode === "cut") return { state: { ...state, mode: "fresh" }, events: NO_EVENTS };
  // Both sides send an empty line first, to end whatever a cut left half said.
  if (text === "" || text === "\r") return { state, events: NO_EVENTS };

  const line = decodeDeviceLine(text);
  if (line.kind === "rejected") return readRejected(state, line, arrived_at_us);
  if (line.kind === "hello") return readHello(state, line, arrived_at_us);
  if (state.mode === "doubt") return setAside(state, line, arrived_at_us);

  const next = follow(state, line.seq, line.t_us, arrived_at_us, isReading(line));
  if (next === null) return setAside({ ...state, mode: "doubt", heard: 0, asked_at_us: 0 }, line, arrived_at_us);
  const event = eventOf(line, next.at_us, lostBefore(state, line.seq));
  const events = event === null ? NO_EVENTS : [event];
  return next.boot === null ? unnamed(next, events, line.kind === "answer") : { state: next, events };
}

/** `answered`: the board hears us, and its hello did not come through: it may have been the very line that was dropped. */
function unnamed(state: Tm1Source, events: readonly LineEvent[], answered: boolean): Tm1Step {
  const { arrived_at_us, asked_at_us, ask_wait_us } = state;
  // Once: where no hello of a board can be read, each answer to a question would be the reason for the next.
  const at_once = answered && ask_wait_us === FIRST_ASK_WAIT_US;
  if (!at_once && arrived_at_us - asked_at_us < ask_wait_us) return { state, events };
  return {
    state: { ...state, asked_at_us: arrived_at_us, ask_wait_us: Math.min(2 * ask_wait_us, LONGEST_ASK_WAIT_US) },
    events: [...events, { kind: "identify-wanted" }],
  };
}

/** R is cell 1; further cells are reserved and only counted. */
const isReading = (line: DeviceLine): boolean => line.kind === "reading" && line.cell === 1;

function eventOf(line: Exclude<DeviceLine, HelloLine>, at_us: number, lost: number): LineEvent | null {
  switch (line.kind) {
    case "reading": {
      const { counts, muscle_action } = line;
      return line.cell === 1 ? { kind: "reading", at_us, counts, muscle_action, lost } : null;
    }
    case "key":
      return { kind: "key", at_us, key: line.key, pressed: line.pressed };
    case "tag":
      return { kind: "tag", at_us, tag: line.tag };
    case "fault":
      return { kind: "fault", at_us, fault: line.fault };
    case "answer":
      return { kind: "answer", command: line.command, error: line.error };
  }
}

/** As it stands after a line that follows from the one before; null where it does not. */
function follow(
  state: Tm1Source,
  seq: number,
  t_us: number,
  arrived_at_us: number,
  reading: boolean,
): Tm1Source | null {
  const fresh = state.mode === "fresh";
  const micros = microsOn(state.t_us, t_us);
  if (!fresh && !isOrdinary(linesOn(state.seq, seq), micros)) return null;
  return {
    dialect: "tm1",
    mode: "running",
    seq,
    t_us,
    at_us: fresh ? epochStart(state, arrived_at_us) : state.at_us + micros,
    arrived_at_us,
    lost: reading ? 0 : lostBefore(state, seq),
    boot: state.boot,
    heard: 0,
    asked_at_us: fresh ? arrived_at_us : state.asked_at_us,
    ask_wait_us: state.ask_wait_us,
    rejects: state.rejects,
  };
}

function lostBefore(state: Tm1Source, seq: number): number {
  return state.mode === "fresh" ? state.lost : state.lost + linesOn(state.seq, seq) - 1;
}

function epochStart(state: Tm1Source, arrived_at_us: number): number {
  return state.at_us + Math.max(1, Math.round(arrived_at_us - state.arrived_at_us));
}

function setAside(state: Tm1Source, line: Exclude<DeviceLine, HelloLine>, arrived_at_us: number): Tm1Step {
  const ask = state.heard === 0 || arrived_at_us - state.asked_at_us >= ASK_AGAIN_US;
  const events: LineEvent[] = ask ? [{ kind: "identify-wanted" }] : [];
  const event = line.kind === "reading" ? null : eventOf(line, state.at_us, 0);
  if (event !== null) events.push(event);
  return {
    state: {
      ...state,
      heard: state.heard + 1,
      lost: isReading(line) ? state.lost + 1 : state.lost,
      asked_at_us: ask ? arrived_at_us : state.asked_at_us,
    },
    events,
  };
}

function readHello(state: Tm1Source, line: HelloLine, arrived_at_us: number): Tm1Step {
  const { seq, t_us, boot } = line;
  if (state.mode === "fresh") {
    const at_us = epochStart(state, arrived_at_us);
    const next: Tm1Source = { ...state, mode: "running", seq, t_us, at_us, arrived_at_us, boot };
    return { state: next, events: [{ kind: "hello", at_us, line, restart: false }] };
  }
  const lines = linesOn(state.seq, seq);
  const micros = microsOn(state.t_us, t_us);
  const settled = { ...state, mode: "running", seq, t_us, arrived_at_us, boot, heard: 0, asked_at_us: 0 } as const;
  // The same boot vouches for a long gap; before the first hello only an ordinary step can.
  const goesOn = state.boot === null ? isOrdinary(lines, micros) : state.boot === boot && isPossible(lines, micros);
  if (goesOn) {
    const at_us = state.at_us + micros;
    const lost = state.lost + Math.max(0, lines - 1 - state.heard);
    return { state: { ...settled, at_us, lost }, events: [{ kind: "hello", at_us, line, restart: false }] };
  }
  const restart = state.boot !== boot;
  const at_us = epochStart(state, arrived_at_us);
  return {
    state: { ...settled, at_us },
    events: [
      { kind: "epoch", because: restart ? "restarted" : "clock" },
      { kind: "hello", at_us, line, restart },
    ],
  };
}

function readRejected(state: Tm1Source, line: RejectedLine, arrived_at_us: number): Tm1Step {
  const { reject, seq } = line;
  const rejects = { ...state.rejects, [reject]: state.rejects[reject] + 1 };
  const event: LineEvent = { kind: "rejected", reject };
  if (seq === null || state.mode === "fresh") return { state: { ...state, rejects }, events: [event] };
  if (state.mode === "doubt") return { state: { ...state, rejects, heard: state.heard + 1 }, events: [event] };
  const next = follow(state, seq, line.t_us ?? state.t_us, arrived_at_us, false);
  if (next !== null) return { state: { ...next, rejects }, events: [event] };
  return {
    state: { ...state, mode: "doubt", heard: 1, asked_at_us: arrived_at_us, rejects },
    events: [event, { kind: "identify-wanted" }],
  };
}
