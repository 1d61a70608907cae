/** The thread that reads a file to import: it says a bit more each time it is asked, so that nobody is flooded. */
import { closeSync, openSync, readSync, statSync } from "node:fs";
import { parentPort, workerData } from "node:worker_threads";
import { type ImportSaid, sayFile } from "./import-pieces.ts";

export interface ImportData {
  readonly path: string;
}

export type ImportWord =
  | ImportSaid
  | { readonly is: "not-a-file" }
  /** It holds calibration records as `calibrations` exports them. */
  | { readonly is: "calibrations" }
  /** The code of the system's error. */
  | { readonly is: "failed"; readonly code: string | null; readonly why: string };

if (parentPort === null) throw new Error("this file is the import's thread and is started by run/importing-file.ts");
const port = parentPort;
const words = saying((workerData as ImportData).path);
port.on("message", () => {
  const { value, done } = words.next();
  if (done === true) port.close();
  else port.postMessage(value);
});

function* saying(path: string): Generator<ImportWord> {
  let file: number | null = null;
  try {
    // Opening a pipe would wait for whoever writes into it.
    if (!statSync(path).isFile()) {
      yield { is: "not-a-file" };
      return;
    }
    file = openSync(path, "r");
    if (holdsCalibrations(file)) yield { is: "calibrations" };
    else yield* sayFile(file);
  } catch (error) {
    if (!(error instanceof Error && "errno" in error)) throw error;
    yield { is: "failed", code: "code" in error ? String(error.code) : null, why: error.message };
  } finally {
    if (file !== null) closeSync(file);
  }
}

/** Those come one document over many lines, or one a line, and each says its `record_version` or `check_version` first. */
function holdsCalibrations(file: number): boolean {
  const head = Buffer.alloc(64);
  const text = head.toString("latin1", 0, readSync(file, head, 0, head.length, 0));
  return /^\s*\{\s*"(record|check)_version"/.test(text);
}
