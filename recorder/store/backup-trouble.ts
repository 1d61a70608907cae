/** Why there is no backup, or nothing was restored: a sentence for a person, made where the trouble is met. */
import type { Refusal } from "../../protocol/vocabulary.ts";
import { resultCode, StoreFailure } from "./failure.ts";
import { fileTrouble } from "./file-trouble.ts";

export class NotDone extends Error {
  readonly refusal: Refusal;

  constructor(code: Refusal["code"], message: string, hint?: string) {
    super(message);
    this.refusal = hint === undefined ? { code, message } : { code, message, hint };
  }

  /** The same again, on the other side of a process. */
  static of({ code, message, hint }: Refusal): NotDone {
    return new NotDone(code, message, hint);
  }
}

/** What somebody gave as a backup is none that can be used. */
export const noBackup = (path: string, why: string): NotDone =>
  new NotDone("not-suited", `${path} cannot be restored: ${why}.`, "Use another backup; this one was left as it is.");

const FULL = 13;

/** Any error as one that a person can do something about. `path` is the file that was to be written or read. */
export function troubleWith(error: unknown, path: string, doing: "read" | "write"): NotDone {
  if (error instanceof NotDone) return error;
  if (error instanceof StoreFailure) return new NotDone("storage", sentence(error.message));
  const why = error instanceof Error ? error.message : String(error);
  return NotDone.of(fileTrouble(systemCode(error), why, path, doing));
}

/** The library says of a full disk so in its own number. */
function systemCode(error: unknown): string | null {
  const code = resultCode(error);
  if (code !== null && (code & 0xff) === FULL) return "ENOSPC";
  if (error instanceof Error && /database or disk is full/.test(error.message)) return "ENOSPC";
  return error instanceof Error && "code" in error && typeof error.code === "string" ? error.code : null;
}

const sentence = (text: string): string => {
  const [first = "", ...rest] = text;
  const whole = first.toUpperCase() + rest.join("");
  return whole.endsWith(".") ? whole : `${whole}.`;
};
