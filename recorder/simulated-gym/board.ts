/**
 * A simulated `tm1` board: conversions, keys and host lines in, lines out. Pure.
 *
 * Every line is stamped with `seq` and the device's 32-bit microsecond clock when it is made. Time comes in as whole
 * microseconds of the simulation, never decreasing; the board's own clock starts with its boot.
 */
import { decodeHostLine, HOST_LINE_CAP_BYTES, LAST_SEQ, LAST_T_US } from "../../protocol/serial-line/decode.ts";
import { encodeDeviceLine } from "../../protocol/serial-line/encode.ts";
import type { DeviceLine, HostLine, LampState } from "../../protocol/serial-line/lines.ts";
import { SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS } from "../../protocol/units.ts";
import type { AmplifierFault, MuscleAction } from "../../protocol/vocabulary.ts";
import { uniformAt } from "./random.ts";
import type { Gain, Rate } from "./rig.ts";
import type { Lamps } from "./trainee.ts";

export interface Board {
  readonly firmware: string;
  readonly board: string;
  readonly amplifier: string;
  /** Whether the rate can be set by the host. */
  readonly rate_wired: boolean;
  readonly gain: Gain;
  readonly rate: Rate;
  /** What the clock shows at boot: 0 on hardware; a late start brings the wrap near. */
  readonly clock_at_boot_us: number;
  /** Readings carry the muscle action. */
  readonly reports_muscle_action: boolean;
}

export interface BoardState {
  readonly seq: number;
  readonly boots: number;
  readonly booted_at_us: number;
  readonly gain: Gain;
  readonly rate: Rate;
  /** As the host asked. */
  readonly asked: Lamps;
  readonly heard_at_us: number;
  /** Conversions that are still settling and are kept back. */
  readonly settling: number;
  readonly saturated: boolean;
  /** The part of a host line that has come so far; null: too long, skipping to its end. */
  readonly heard: string | null;
}

export type BoardInput = { readonly at_us: number } & (
  | { readonly kind: "boot"; readonly after: "power-up" | "brownout" | "watchdog" }
  | { readonly kind: "bytes"; readonly text: string }
  | { readonly kind: "conversion"; readonly counts: number; readonly muscle_action: MuscleAction | null }
  | { readonly kind: "key"; readonly key: number; readonly pressed: boolean }
  | { readonly kind: "tag"; readonly tag: string }
  | { readonly kind: "fault"; readonly fault: AmplifierFault }
);

export interface BoardStep {
  readonly state: BoardState;
  /** What goes out on the line, whole lines with their ends. */
  readonly out: string;
}

/** HX711 datasheet: settled at the fourth conversion after power-up, a change of gain or of rate. */
const SETTLING_CONVERSIONS = 4;
const HOST_SILENT_US = 5_000_000;

export function newBoard(board: Board): BoardState {
  return {
    seq: 0,
    boots: 0,
    booted_at_us: 0,
    gain: board.gain,
    rate: board.rate,
    asked: { 1: "off", 2: "off" },
    heard_at_us: 0,
    settling: SETTLING_CONVERSIONS,
    saturated: false,
    heard: "",
  };
}

/** What the lamps show: both blink while the host has been silent for 5 s. */
export function lampsShown(state: BoardState, at_us: number): Lamps {
  return at_us - state.heard_at_us > HOST_SILENT_US ? { 1: "blink", 2: "blink" } : state.asked;
}

export function stepBoard(board: Board, before: BoardState, input: BoardInput, seed: number): BoardStep {
  const { at_us } = input;
  switch (input.kind) {
    case "boot": {
      const fresh: BoardState = {
        ...newBoard(board),
        boots: before.boots + 1,
        booted_at_us: at_us,
        heard_at_us: at_us,
      };
      const hello = said(board, fresh, at_us, helloOf(board, fresh, seed));
      const fault = input.after === "power-up" ? "" : input.after;
      // The empty line ends whatever the board was saying when it went down.
      if (fault === "") return { state: hello.state, out: `\n${hello.out}` };
      const why = said(board, hello.state, at_us, { kind: "fault", fault });
      return { state: why.state, out: `\n${hello.out}${why.out}` };
    }
    case "bytes":
      return listened(board, before, input.text, at_us, seed);
    case "conversion":
      return converted(board, before, input);
    case "key":
      return said(board, before, at_us, { kind: "key", key: input.key, pressed: input.pressed });
    case "tag":
      return said(board, before, at_us, { kind: "tag", tag: input.tag });
    case "fault":
      return said(board, before, at_us, { kind: "fault", fault: input.fault });
  }
}

type Unstamped = DeviceLine extends infer L ? (L extends DeviceLine ? Omit<L, "seq" | "t_us"> : never) : never;

function said(board: Board, before: BoardState, at_us: number, line: Unstamped): BoardStep {
  const t_us = (board.clock_at_boot_us + at_us - before.booted_at_us) % (LAST_T_US + 1);
  const stamped = { ...line, seq: before.seq, t_us } as DeviceLine;
  return { state: { ...before, seq: (before.seq + 1) % (LAST_SEQ + 1) }, out: `${encodeDeviceLine(stamped)}\n` };
}

function helloOf(board: Board, state: BoardState, seed: number): Unstamped {
  const boot = Math.floor(uniformAt(seed, state.boots) * 0x10000);
  return {
    kind: "hello",
    firmware: board.firmware,
    board: board.board,
    amplifier: board.amplifier,
    rate: state.rate,
    gain: state.gain,
    boot: boot.toString(16).padStart(4, "0"),
  };
}

function converted(board: Board, before: BoardState, input: BoardInput & { kind: "conversion" }): BoardStep {
  if (before.settling > 0) return { state: { ...before, settling: before.settling - 1 }, out: "" };
  const saturated = input.counts === SATURATED_HIGH_COUNTS || input.counts === SATURATED_LOW_COUNTS;
  const muscle_action = board.reports_muscle_action ? input.muscle_action : null;
  const reading = said(board, { ...before, saturated }, input.at_us, {
    kind: "reading",
    cell: 1,
    counts: input.counts,
    muscle_action,
  });
  if (!saturated || before.saturated) return reading;
  const fault = said(board, reading.state, input.at_us, { kind: "fault", fault: "amplifier-saturated" });
  return { state: fault.state, out: reading.out + fault.out };
}

/** Host bytes, in whatever pieces they come. Lines that cannot be read are dropped: the host asks again. */
function listened(board: Board, before: BoardState, text: string, at_us: number, seed: number): BoardStep {
  let state = before;
  let out = "";
  const pieces = text.split("\n");
  for (const [index, piece] of pieces.entries()) {
    const line = state.heard === null ? null : state.heard + piece;
    const tooLong = line === null || line.length > HOST_LINE_CAP_BYTES;
    if (index === pieces.length - 1) {
      state = { ...state, heard: tooLong ? null : line };
      break;
    }
    state = { ...state, heard: "" };
    if (tooLong) continue;
    const asked = decodeHostLine(line);
    if (asked === null) continue;
    const answered = answer(board, { ...state, heard_at_us: at_us }, asked, at_us, seed);
    state = answered.state;
    out += answered.out;
  }
  return { state, out };
}

function answer(board: Board, before: BoardState, asked: HostLine, at_us: number, seed: number): BoardStep {
  const done = (state: BoardState, error: string | null = null): BoardStep =>
    said(board, state, at_us, { kind: "answer", command: asked.command, error });
  switch (asked.kind) {
    case "identify": {
      const hello = said(board, before, at_us, helloOf(board, before, seed));
      const ok = done(hello.state);
      return { state: ok.state, out: hello.out + ok.out };
    }
    case "lamp":
      if (asked.lamp !== 1 && asked.lamp !== 2) return done(before, "unknown-lamp");
      return done({ ...before, asked: lit(before.asked, asked.lamp, asked.to) });
    case "gain":
      return done({ ...before, gain: asked.gain, settling: SETTLING_CONVERSIONS });
    case "rate":
      if (!board.rate_wired) return done(before, "not-wired");
      return done({ ...before, rate: asked.rate, settling: SETTLING_CONVERSIONS });
  }
}

function lit(lamps: Lamps, lamp: 1 | 2, to: LampState): Lamps {
  return lamp === 1 ? { 1: to, 2: lamps[2] } : { 1: lamps[1], 2: to };
}
