/**
 * Lines to what they say. Grammar and layout: TM1.md. Pure; never throws: a line that is not taken is a value with the
 * name of the first check it failed, in the order of REJECTS. Nothing is salvaged inside a line.
 *
 * `text` is one line as latin1, without its LF; a CR at the end is ignored, but is one of its bytes.
 */
import { SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS } from "../units.ts";
import { AMPLIFIER_FAULTS, type MuscleAction } from "../vocabulary.ts";
import { crc16 } from "./crc16.ts";
import { fieldEnd, isBody, isName, numberIn, numberOf, within } from "./fields.ts";
import { type DeviceLine, type HostLine, LINE_CAP_BYTES, type Reject } from "./lines.ts";

export interface RejectedLine {
  readonly kind: "rejected";
  readonly reject: Reject;
  /** Known only of an `unknown-kind` line, which has a good check sum: it was no reading, so none is missing. */
  readonly seq: number | null;
  readonly t_us: number | null;
}

export const LAST_SEQ = 0xffff;
export const LAST_T_US = 0xffff_ffff;
export const LAST_COMMAND = 0xffff;
export const HOST_LINE_CAP_BYTES = 40;
/** Keys, rates and gains beyond these are slips, not settings. */
const LAST_KEY = 255;
const LAST_LAMP = 9;
const LAST_SETTING = 0xffff;

const CR = 0x0d;
const STAR = 0x2a;
const COMMA = 0x2c;
const LETTER_R = 0x52;
const DIGIT_2 = 0x32;
const DIGIT_4 = 0x34;
const SUM_LENGTH = 5;
const BOOT = /^[0-9A-Fa-f]{4}$/;

const rejected = (reject: Reject): RejectedLine => ({ kind: "rejected", reject, seq: null, t_us: null });
const TOO_LONG = rejected("too-long");
const NO_CHECK_SUM = rejected("no-checksum");
const BAD_CHECK_SUM = rejected("bad-checksum");
const BAD_FIELD = rejected("bad-field");
const OUT_OF_RANGE = rejected("out-of-range");

export function decodeDeviceLine(text: string): DeviceLine | RejectedLine {
  if (text.length > LINE_CAP_BYTES) return TOO_LONG;
  const star = starOf(text);
  const sum = hexIn(text, star + 1);
  if (star < 0 || sum < 0) return NO_CHECK_SUM;
  if (sum !== crc16(text, 0, star)) return BAD_CHECK_SUM;
  // Nearly every line is a reading: those are read where they stand, without splitting.
  if (text.charCodeAt(0) === LETTER_R) {
    const second = text.charCodeAt(1);
    if (second === COMMA) return reading(text, 1, star, 1);
    if (within(second, DIGIT_2, DIGIT_4) && text.charCodeAt(2) === COMMA)
      return reading(text, 2, star, second - DIGIT_2 + 2);
  }
  return other(text.slice(0, star));
}

/** A host's line as a board reads it; null: not one. */
export function decodeHostLine(text: string): HostLine | null {
  if (text.length > HOST_LINE_CAP_BYTES) return null;
  const star = starOf(text);
  if (star < 0 || hexIn(text, star + 1) !== crc16(text, 0, star)) return null;
  const body = text.slice(0, star);
  if (!isBody(body)) return null;
  const [kind, commandField, first, second] = body.split(",");
  const command = numberOf(commandField);
  if (!within(command, 1, LAST_COMMAND)) return null;
  const value = numberOf(first);
  switch (kind) {
    case "I":
      return { kind: "identify", command };
    case "L":
      if (!within(value, 1, LAST_LAMP) || (second !== "on" && second !== "off" && second !== "blink")) return null;
      return { kind: "lamp", command, lamp: value, to: second };
    case "G":
      return value === 128 || value === 64 ? { kind: "gain", command, gain: value } : null;
    case "S":
      return value === 10 || value === 80 ? { kind: "rate", command, rate: value } : null;
    default:
      return null;
  }
}

/** Where the asterisk of the check sum stands; negative where none does. */
function starOf(text: string): number {
  const last = text.length - 1;
  const star = (text.charCodeAt(last) === CR ? last : last + 1) - SUM_LENGTH;
  return text.charCodeAt(star) === STAR ? star : -1;
}

/** Four upper-case hex digits as a number; -1 where they are not that. */
function hexIn(text: string, from: number): number {
  let value = 0;
  for (let at = from; at < from + 4; at++) {
    const code = text.charCodeAt(at);
    const digit = within(code, 0x30, 0x39) ? code - 0x30 : within(code, 0x41, 0x46) ? code - 0x37 : -1;
    if (digit < 0) return -1;
    value = (value << 4) | digit;
  }
  return value;
}

/** `comma` is the one after the kind, `end` the asterisk. A field past the end comes out as no number. */
function reading(text: string, comma: number, end: number, cell: number): DeviceLine | RejectedLine {
  const seqEnd = fieldEnd(text, comma + 1, end);
  const timeEnd = fieldEnd(text, seqEnd + 1, end);
  const countsEnd = fieldEnd(text, timeEnd + 1, end);
  const seq = numberIn(text, comma + 1, seqEnd);
  const t_us = numberIn(text, seqEnd + 1, timeEnd);
  const counts = numberIn(text, timeEnd + 1, countsEnd);
  if (Number.isNaN(seq + t_us + counts)) return BAD_FIELD;
  let muscle_action: MuscleAction | null = null;
  if (countsEnd < end) {
    const actionEnd = fieldEnd(text, countsEnd + 1, end);
    const action = muscleActionIn(text, countsEnd + 1, actionEnd);
    if (action === undefined || (actionEnd < end && !isBody(text.slice(actionEnd, end)))) return BAD_FIELD;
    muscle_action = action;
  }
  if (!stamped(seq, t_us) || !within(counts, SATURATED_LOW_COUNTS, SATURATED_HIGH_COUNTS)) return OUT_OF_RANGE;
  return { kind: "reading", seq, t_us, cell, counts, muscle_action };
}

/** null: not known. undefined: not one of the letters. */
function muscleActionIn(text: string, from: number, to: number): MuscleAction | null | undefined {
  if (from === to) return null;
  if (to - from > 1) return undefined;
  switch (text[from]) {
    case "c":
      return "concentric";
    case "e":
      return "eccentric";
    case "i":
      return "isometric";
    default:
      return undefined;
  }
}

const stamped = (seq: number, t_us: number): boolean => within(seq, 0, LAST_SEQ) && within(t_us, 0, LAST_T_US);

function other(body: string): DeviceLine | RejectedLine {
  const fields = body.split(",");
  const seq = numberOf(fields[1]);
  const t_us = numberOf(fields[2]);
  const line = bodyOf(fields, seq, t_us);
  if (line === "unknown-kind") {
    return {
      kind: "rejected",
      reject: line,
      seq: within(seq, 0, LAST_SEQ) ? seq : null,
      t_us: within(t_us, 0, LAST_T_US) ? t_us : null,
    };
  }
  if (line === "bad-field" || Number.isNaN(seq + t_us) || !isBody(body)) return BAD_FIELD;
  if (line === "out-of-range" || !stamped(seq, t_us)) return OUT_OF_RANGE;
  return line;
}

function bodyOf(
  fields: readonly string[],
  seq: number,
  t_us: number,
): DeviceLine | "unknown-kind" | "bad-field" | "out-of-range" {
  switch (fields[0]) {
    case "H": {
      const [, , , dialect, firmware, board, amplifier, rateField, gainField, boot] = fields;
      const rate = numberOf(rateField);
      const gain = numberOf(gainField);
      const named = isName(firmware) && isName(board) && isName(amplifier) && boot !== undefined && BOOT.test(boot);
      if (dialect !== "tm1" || !named || Number.isNaN(rate + gain)) return "bad-field";
      if (!within(rate, 1, LAST_SETTING) || !within(gain, 1, LAST_SETTING)) return "out-of-range";
      return { kind: "hello", seq, t_us, firmware, board, amplifier, rate, gain, boot };
    }
    case "K": {
      const key = numberOf(fields[3]);
      const move = fields[4];
      if (Number.isNaN(key) || (move !== "d" && move !== "u")) return "bad-field";
      return within(key, 1, LAST_KEY) ? { kind: "key", seq, t_us, key, pressed: move === "d" } : "out-of-range";
    }
    case "T": {
      const tag = fields[3];
      return isName(tag) ? { kind: "tag", seq, t_us, tag } : "bad-field";
    }
    case "X": {
      const fault = AMPLIFIER_FAULTS.find((known) => known === fields[3]);
      return fault === undefined ? "bad-field" : { kind: "fault", seq, t_us, fault };
    }
    case "A": {
      const command = numberOf(fields[3]);
      const error = errorIn(fields[4], fields[5]);
      if (Number.isNaN(command) || error === undefined) return "bad-field";
      return within(command, 1, LAST_COMMAND) ? { kind: "answer", seq, t_us, command, error } : "out-of-range";
    }
    default:
      return "unknown-kind";
  }
}

/** null: done. undefined: neither `ok` nor `error` with a name. */
function errorIn(outcome: string | undefined, name: string | undefined): string | null | undefined {
  if (outcome === "ok") return null;
  return outcome === "error" && isName(name) ? name : undefined;
}
