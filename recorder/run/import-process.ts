/**
 * The process that reads a file to import. It is told which one, and says a bit more each time it is asked, so that nobody is
 * flooded. It ends with whoever started it.
 */
import { closeSync, openSync, readSync, statSync } from "node:fs";
import { setPriority } from "node:os";
import { type ImportSaid, sayFile } from "./import-pieces.ts";

/** Each time the same. */
export interface ImportAsked {
  readonly path: string;
}

export type ImportWord =
  | ImportSaid
  | { readonly is: "not-a-file" }
  /** It holds calibration records as `calibrations` exports them. */
  | { readonly is: "calibrations" }
  /** The code of the system's error. */
  | { readonly is: "failed"; readonly code: string | null; readonly why: string };

const GIVES_WAY = 10;

let words: Generator<ImportWord> | null = null;
process.on("message", (asked: ImportAsked) => {
  if (words === null) setPriority(GIVES_WAY);
  words ??= saying(asked.path);
  const { value, done } = words.next();
  if (done === true) process.disconnect();
  else process.send?.(value);
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
