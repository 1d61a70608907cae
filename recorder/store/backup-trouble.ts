/** Why there is no backup, or nothing was restored: a sentence for a person, made where the trouble is met. */
import { userInfo } from "node:os";
import { dirname } from "node:path";
import type { Refusal } from "../../protocol/vocabulary.ts";
import { resultCode, StoreFailure } from "./failure.ts";

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
  const folder = dirname(path);
  switch (systemCode(error)) {
    case "EACCES":
    case "EPERM":
    case "EROFS": {
      const who = `It is ${doing === "read" ? "read" : "written"} by the user ${userName()}`;
      return new NotDone(
        "not-permitted",
        `${path} cannot be ${doing === "read" ? "read" : "written"}: ${why}.`,
        `${who}: give that user the right to, or name a place where it has it.`,
      );
    }
    case "ENOENT":
    case "ENOTDIR":
      if (doing === "read") return new NotDone("out-of-range", `There is no file ${path} on this machine.`);
      return new NotDone("out-of-range", `There is no folder ${folder} on this machine.`, "Make it, or name another.");
    case "ENOSPC":
    case "EDQUOT":
      return new NotDone(
        "storage",
        `The disk of ${folder} is full.`,
        "Make room on it, or name a folder on another one.",
      );
    default:
      return new NotDone("storage", `${path} could not be ${doing === "read" ? "read" : "written"}: ${why}.`);
  }
}

/** The library says of a full disk so in its own number. */
function systemCode(error: unknown): string | null {
  const code = resultCode(error);
  if (code !== null && (code & 0xff) === FULL) return "ENOSPC";
  if (error instanceof Error && /database or disk is full/.test(error.message)) return "ENOSPC";
  return error instanceof Error && "code" in error && typeof error.code === "string" ? error.code : null;
}

function userName(): string {
  try {
    return userInfo().username;
  } catch {
    return String(process.getuid?.() ?? "the recorder runs as");
  }
}

const sentence = (text: string): string => {
  const [first = "", ...rest] = text;
  const whole = first.toUpperCase() + rest.join("");
  return whole.endsWith(".") ? whole : `${whole}.`;
};
