/**
 * The process that writes an export: minutes of reading and writing that no station and no commit may wait for. It is told
 * what to do, answers once, and ends with whoever started it.
 */
import { setPriority } from "node:os";
import type { ErrorCode } from "../../protocol/vocabulary.ts";
import { NotExported } from "./export-file.ts";
import { type Exported, type ExportWish, exportStore } from "./export-store.ts";
import { failureOf } from "./failure.ts";

export type ExportAnswer =
  | { readonly is: "exported"; readonly exported: Exported }
  /** A sentence of the program's own. */
  | { readonly is: "not-exported"; readonly code: ErrorCode; readonly why: string; readonly hint: string | undefined }
  /** The code of the system's error, where it is one. */
  | { readonly is: "failed"; readonly code: string | null; readonly why: string };

const GIVES_WAY = 10;

const parent = process.ppid;
process.once("message", (wish: ExportWish) => {
  setPriority(GIVES_WAY);
  process.send?.(answerTo(wish), () => process.disconnect());
});

function answerTo(wish: ExportWish): ExportAnswer {
  try {
    return { is: "exported", exported: exportStore(wish, () => process.ppid !== parent) };
  } catch (error) {
    if (error instanceof NotExported) {
      const { code, message: why, hint } = error;
      return { is: "not-exported", code, why, hint };
    }
    if (error instanceof Error && "errno" in error && "code" in error) {
      return { is: "failed", code: String(error.code), why: error.message };
    }
    return { is: "failed", code: null, why: failureOf(error, "cannot export").message };
  }
}
