/** What the system said of a file of somebody's, in words of what would do. */
import { userInfo } from "node:os";
import { dirname } from "node:path";
import type { Refusal } from "../../protocol/vocabulary.ts";

/** `code` is the system's own, `why` its words without a full stop. Said by the process that tried, as the user it runs as. */
export function fileTrouble(code: string | null, why: string, path: string, doing: "read" | "write"): Refusal {
  const folder = dirname(path);
  const done = doing === "read" ? "read" : "written";
  switch (code) {
    case "EACCES":
    case "EPERM":
    case "EROFS":
      return {
        code: "not-permitted",
        message: `${path} cannot be ${done}: ${why}.`,
        hint: `It is ${done} by the user ${userName()}, whoever asks: give that user the right to, or name a place where it has it.`,
      };
    case "ENOENT":
    case "ENOTDIR": {
      if (doing === "read") {
        return { code: "out-of-range", message: `There is no file ${path} on the recorder's machine.` };
      }
      const message = `There is no folder ${folder} on the recorder's machine.`;
      return { code: "out-of-range", message, hint: "Make it, or name another." };
    }
    case "ENOSPC":
    case "EDQUOT": {
      const hint = "Make room on it, or name a folder on another one.";
      return { code: "storage", message: `The disk of ${folder} is full.`, hint };
    }
    default:
      return { code: "storage", message: `${path} could not be ${done}: ${why}.` };
  }
}

function userName(): string {
  try {
    return userInfo().username;
  } catch {
    return String(process.getuid?.() ?? "the recorder runs as");
  }
}
