/**
 * The thread that writes an export: minutes of reading and writing that no station and no commit may wait for. It answers
 * once. Ending it from outside in the middle of a call to SQLite would abort the process, so it is asked to stop.
 */
import { parentPort, workerData } from "node:worker_threads";
import type { ErrorCode } from "../../protocol/vocabulary.ts";
import { NotExported } from "./export-file.ts";
import { type Exported, type ExportWish, exportStore } from "./export-store.ts";
import { failureOf } from "./failure.ts";
import { type Hurry, isHurried } from "./serve.ts";

export interface ExportData {
  readonly wish: ExportWish;
  readonly stop: Hurry;
}

export type ExportAnswer =
  | { readonly is: "exported"; readonly exported: Exported }
  /** A sentence of the program's own. */
  | { readonly is: "not-exported"; readonly code: ErrorCode; readonly why: string }
  /** The code of the system's error, where it is one. */
  | { readonly is: "failed"; readonly code: string | null; readonly why: string };

if (parentPort === null) throw new Error("this file is the export's thread and is started by run/exporting.ts");
const { wish, stop } = workerData as ExportData;
parentPort.postMessage(answer());

function answer(): ExportAnswer {
  try {
    return { is: "exported", exported: exportStore(wish, () => isHurried(stop)) };
  } catch (error) {
    if (error instanceof NotExported) return { is: "not-exported", code: error.code, why: error.message };
    const code = error instanceof Error && "errno" in error && "code" in error ? String(error.code) : null;
    return { is: "failed", code, why: failureOf(error, "cannot export").message };
  }
}
