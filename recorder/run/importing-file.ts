/**
 * What another box, or this one, wrote as a file: checked whole in a process of its own before anything is written, then
 * written through the storage thread piece by piece, so that whatever else is to be kept comes in between.
 */
import type { ImportFileResult } from "../../protocol/requests/care-results.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import { fileTrouble } from "../store/file-trouble.ts";
import { EndedApart, startApart } from "./apart.ts";
import type { CarePorts } from "./care.ts";
import { freeBytes } from "./disk.ts";
import type { CheckedFile } from "./import-checking.ts";
import { type Brought, importNotes, NOTHING_YET, withPiece } from "./import-notes.ts";
import type { ImportAsked, ImportWord } from "./import-process.ts";

const READER = new URL("./import-process.ts", import.meta.url);

/** `free` says how many bytes are left on the disk of a path; null: not known. */
export async function importFrom(
  path: string,
  performed_by: string | null,
  ports: CarePorts,
  free: (path: string) => Promise<number | null> = freeBytes,
): Promise<Outcome> {
  const { stopping, log, store } = ports;
  const reader = startApart<ImportWord>(READER);
  const asked: ImportAsked = { path };
  const next = (): Promise<ImportWord> => reader.ask(asked);
  const onStop = (): void => void reader.end();
  stopping.addEventListener("abort", onStop);
  try {
    if (stopping.aborted) return brokenOff(NOTHING);
    const first = await next();
    if (first.is !== "sound") return notSound(first, path);
    const free_bytes = await free(ports.path);
    if (free_bytes !== null && free_bytes < first.file.bytes + LEFT_FREE_BYTES) return noRoom(first.file.bytes);
    const brought = await takeIn(next, ports);
    if ("ok" in brought) return brought;
    const notes = await importNotes(first.file, brought, { store, stations: [...ports.loops.keys()] });
    log.info({ performed_by, ...brought.imported }, "A file was imported.");
    const { imported, known } = brought;
    return done({ path, imported, known, notes } satisfies ImportFileResult);
  } catch (error) {
    if (stopping.aborted) return brokenOff(PARTLY);
    log.error({ err: error }, "An import failed.");
    if (error instanceof EndedApart) return refused("storage", `What read the file ended by ${error.message}.`, AGAIN);
    return refused("storage", `The import failed: ${(error as Error).message}.`, AGAIN);
  } finally {
    stopping.removeEventListener("abort", onStop);
    await reader.end();
  }
}

/** Left to the sets that are still to come. A store takes a little less room for a set than a file does [measured: 0.87]. */
const LEFT_FREE_BYTES = 64 * 1024 * 1024;

const noRoom = (bytes: number): Outcome =>
  refused(
    "storage",
    `The store's disk has no room for what is in the file, up to ${Math.ceil(bytes / 1e6)} MB. ${NOTHING}`,
    "Make room on it: the sets of today need some as well.",
  );

const NOTHING = "Nothing was imported.";
const PARTLY = "Some of the file may be imported already.";
const AGAIN = "Import the same file again: what is here already is left as it is, and the rest is added.";

const brokenOff = (how_far: string): Outcome =>
  refused("busy", `The recorder stops, so the import was broken off. ${how_far}`, AGAIN);

async function takeIn(next: () => Promise<ImportWord>, { store }: CarePorts): Promise<Brought | Outcome> {
  let brought = NOTHING_YET;
  for (let after: number | null = null; ; ) {
    const word = await next();
    if (word.is === "done") return brought;
    if (word.is === "failed") return refused("storage", `The file could not be read on: ${word.why}.`, AGAIN);
    if (word.is !== "piece") {
      return refused("storage", "The file was changed while it was read, so the import was broken off.", AGAIN);
    }
    const piece = await store.importPiece({ ...word.piece, after });
    after = piece.place;
    brought = withPiece(brought, piece);
  }
}

const AN_EXPORT = "Name a file that `export` wrote.";

type NotSound = Exclude<ImportWord, { readonly is: "sound"; readonly file: Omit<CheckedFile, "sums"> }>;

function notSound(word: NotSound, path: string): Outcome {
  switch (word.is) {
    case "faulty": {
      const { line, what } = word.fault;
      return refused(
        "bad-request",
        `Line ${line} of ${path}: ${what}. ${NOTHING}`,
        line === 1 ? AN_EXPORT : "Copy the file again, or export it again where it came from.",
      );
    }
    case "calibrations":
      return refused(
        "bad-request",
        `${path} holds calibration records by themselves. ${NOTHING}`,
        "`calibrations STATION --import FILE` takes those.",
      );
    case "not-a-file":
      return refused("bad-request", `${path} is not a file.`, AN_EXPORT);
    case "failed":
      return { ok: false, error: fileTrouble(word.code, word.why, path, "read") };
    default:
      throw new Error(`the import's process said ${word.is} first`);
  }
}
