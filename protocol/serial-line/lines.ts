/**
 * What a `tm1` line says, in both directions, once it has been read. Layout and grammar: TM1.md beside this file.
 *
 * `seq` 0..65535 counts every line of the device and wraps; `t_us` is the device's free-running 32-bit microsecond
 * clock, 0..4294967295. Counts are signed 24-bit.
 */
import type { AmplifierFault, MuscleAction } from "../vocabulary.ts";

interface Stamp {
  readonly seq: number;
  readonly t_us: number;
}

export interface HelloLine extends Stamp {
  readonly kind: "hello";
  readonly firmware: string;
  readonly board: string;
  readonly amplifier: string;
  /** Conversions a second as the board is set up. */
  readonly rate: number;
  readonly gain: number;
  /** Four hex digits, new at every start of the board. */
  readonly boot: string;
}

export interface ReadingLine extends Stamp {
  readonly kind: "reading";
  /** 1; 2..4 are reserved for further cells. */
  readonly cell: number;
  readonly counts: number;
  readonly muscle_action: MuscleAction | null;
}

export interface KeyLine extends Stamp {
  readonly kind: "key";
  readonly key: number;
  readonly pressed: boolean;
}

export interface TagLine extends Stamp {
  readonly kind: "tag";
  readonly tag: string;
}

export interface FaultLine extends Stamp {
  readonly kind: "fault";
  readonly fault: AmplifierFault;
}

export interface AnswerLine extends Stamp {
  readonly kind: "answer";
  readonly command: number;
  /** null: done. Otherwise the error's name. */
  readonly error: string | null;
}

export type DeviceLine = HelloLine | ReadingLine | KeyLine | TagLine | FaultLine | AnswerLine;

export type LampState = "on" | "off" | "blink";

/** Host to device. `command` is 1..65535; commands are idempotent. */
export type HostLine =
  | { readonly kind: "identify"; readonly command: number }
  | { readonly kind: "lamp"; readonly command: number; readonly lamp: number; readonly to: LampState }
  | { readonly kind: "gain"; readonly command: number; readonly gain: 128 | 64 }
  | { readonly kind: "rate"; readonly command: number; readonly rate: 10 | 80 };

/** Why a line was not taken, in the order the checks are made. Counted by name, never thrown. */
export const REJECTS = [
  "too-long",
  "no-checksum",
  "bad-checksum",
  "unknown-kind",
  "bad-field",
  "out-of-range",
] as const;
export type Reject = (typeof REJECTS)[number];

/** The longest line, in bytes up to its LF: the one cap everywhere. */
export const LINE_CAP_BYTES = 120;
