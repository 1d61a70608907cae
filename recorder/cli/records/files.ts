/** Records in files: one JSON document, or one a line, so that a file can be looked through with the usual tools. */
import { readFile, writeFile } from "node:fs/promises";
import { dirname } from "node:path";
import { DID_NOT_HOLD, type Failure, type Terminal } from "../command.ts";
import type { KeptRecord } from "./kept.ts";

/** Oldest first, as they came about. */
export const asLines = (records: readonly KeptRecord[]): string =>
  [...records]
    .reverse()
    .map((record) => JSON.stringify(record))
    .join("\n");

/** `-` is the standard output. A file that is there already is left alone. null: it is written. */
export async function writeOut(file: string, text: string, terminal: Terminal): Promise<Failure | null> {
  if (file !== "-") return writeNew(file, `${text}\n`);
  terminal.out(text);
  return null;
}

/** Text as it is, into a file that is not there yet. null: it is written. */
export async function writeNew(file: string, text: string): Promise<Failure | null> {
  try {
    await writeFile(file, text, { flag: "wx" });
    return null;
  } catch (error) {
    return notWritten(file, error as NodeJS.ErrnoException);
  }
}

/** Why a file could not be begun, and what would do. */
export function notWritten(file: string, { code, message }: NodeJS.ErrnoException): Failure {
  const reasons: Readonly<Record<string, string>> = {
    EEXIST: "it is there already: name another file",
    ENOENT: `there is no folder ${dirname(file)}: make it, or name another`,
    EACCES: `you may not write in ${dirname(file)}: name another folder`,
    EROFS: `nothing can be written in ${dirname(file)}: name another folder`,
  };
  return { exit: DID_NOT_HOLD, message: `${file} was not written, ${reasons[code ?? ""] ?? message}` };
}

export type ReadIn = { readonly documents: readonly object[] } | Failure;

/** One document over any number of lines, or one a line. */
export async function readIn(file: string): Promise<ReadIn> {
  let text: string;
  try {
    text = await readFile(file, "utf8");
  } catch (error) {
    return { exit: DID_NOT_HOLD, message: `${file} cannot be read: ${(error as Error).message}` };
  }
  const whole = parsed(text);
  if (whole !== null) return { documents: [whole] };
  const lines = text.split("\n").map((line) => line.trim());
  const documents: object[] = [];
  for (const [index, line] of lines.entries()) {
    if (line === "") continue;
    const document = parsed(line);
    if (document === null) {
      return {
        exit: DID_NOT_HOLD,
        message: `line ${index + 1} of ${file} is not a JSON object, so nothing was imported`,
      };
    }
    documents.push(document);
  }
  if (documents.length > 0) return { documents };
  return { exit: DID_NOT_HOLD, message: `${file} holds no record` };
}

function parsed(text: string): object | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === "object" && value !== null && !Array.isArray(value) ? value : null;
  } catch {
    return null;
  }
}
