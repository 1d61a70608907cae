/** What a command is: its words for people, its flags, and what it does. Types, and the few ways it can fail. */
import type { Refusal } from "../../protocol/vocabulary.ts";
import type { Input } from "./dialog/lines.ts";

/** Where a command speaks. `out` and `error` take whole lines without the line end. */
export interface Terminal {
  readonly out: (text: string) => void;
  readonly error: (text: string) => void;
  /** Bytes as they are: for redrawing. */
  readonly write: (text: string) => void;
  /** Width of a terminal somebody looks at; null: a file or a pipe. */
  readonly columns: () => number | null;
  /** What somebody types, or a pipe brings. Only who asks for it reads it. */
  readonly input: () => Input;
  /** Ctrl-C, or a polite request to end. Who asks for the signal answers it; for others they end the program. */
  readonly interrupted: () => AbortSignal;
}

export interface Flag {
  /** What stands behind the flag in the help; absent: the flag stands alone. */
  readonly value?: string;
  readonly help: string;
}
export type Flags = Readonly<Record<string, Flag>>;
export type FlagValues = Readonly<Record<string, string | boolean | undefined>>;

export interface Call {
  readonly operands: readonly string[];
  readonly flags: FlagValues;
  readonly terminal: Terminal;
}

/** 0 done, 1 the thing asked for did not hold, 2 wrong usage, 78 bad configuration (EX_CONFIG of sysexits.h). */
export type ExitCode = number;
export const DID_NOT_HOLD = 1;
export const WRONG_USAGE = 2;
export const BAD_CONFIGURATION = 78;

export interface Failure {
  readonly exit: ExitCode;
  /** One sentence saying what is wrong and what to do. */
  readonly message: string;
  /** The recorder's refusal, for `--json`. */
  readonly refusal?: Refusal;
}

export interface Command {
  /** Names of the operands, all of them required, but for those in brackets, which stand last. */
  readonly operands: readonly string[];
  readonly flags: Flags;
  /** One, complete. */
  readonly example: string;
  readonly run: (call: Call) => Promise<ExitCode | Failure>;
}

export const wrongUsage = (message: string): Failure => ({ exit: WRONG_USAGE, message });

/** The text of a flag that takes one. */
export const textOf = (flags: FlagValues, name: string): string | undefined => {
  const value = flags[name];
  return typeof value === "string" ? value : undefined;
};
