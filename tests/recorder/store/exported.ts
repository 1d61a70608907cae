/** Exports and imports without processes, as the tests compare them. */
import { closeSync, openSync, readFileSync, writeFileSync } from "node:fs";
import type { ImportedPiece } from "../../../recorder/care-ports.ts";
import { type ImportSaid, sayFile } from "../../../recorder/run/import-pieces.ts";
import { type Exported, exportStore } from "../../../recorder/store/export-store.ts";
import type { Tables } from "../../../recorder/store/tables.ts";
import { instantAt } from "./invented.ts";

export interface Written extends Exported {
  readonly text: string;
  /** Parsed. */
  readonly lines: readonly Readonly<Record<string, unknown>>[];
}

/** Everything, or one trainee's, of an open store. */
export function exported(tables: Tables, path: string, trainee: string | null = null): Written {
  const header = {
    kind: "tidemark-export",
    format_version: 1,
    program: "0.0.0-test",
    store: tables.store_id,
    recorder: "hall-box",
    site: "north-hall",
    exported_at: instantAt(100_000),
    trainee,
  } as const;
  const done = exportStore({ store_path: tables.database.path, path, header }, () => false);
  const text = readFileSync(path, "utf8");
  const lines = text.split("\n").filter((line) => line !== "");
  return { ...done, text, lines: lines.map((line) => JSON.parse(line) as Record<string, unknown>) };
}

/** What the import's process says of a file, word for word. */
export function said(path: string): ImportSaid[] {
  const file = openSync(path, "r");
  try {
    return [...sayFile(file)];
  } finally {
    closeSync(file);
  }
}

/** A file of these bytes, looked at; null: it is sound. */
export function faultOf(
  path: string,
  bytes: string | Uint8Array,
): { readonly line: number; readonly what: string } | null {
  writeFileSync(path, bytes);
  const [first] = said(path);
  return first?.is === "faulty" ? first.fault : null;
}

/** Written whole, or up to `pieces` of it. Throws where it is not sound. */
export function imported(tables: Tables, path: string, pieces = Number.POSITIVE_INFINITY): ImportedPiece[] {
  const words = said(path);
  if (words[0]?.is !== "sound") throw new Error(JSON.stringify(words[0]));
  const done: ImportedPiece[] = [];
  for (const word of words.slice(0, pieces + 1)) {
    if (word.is !== "piece") continue;
    done.push(tables.methods.importPiece({ ...word.piece, after: done.at(-1)?.place ?? null }));
  }
  return done;
}

export const amountOf = (pieces: readonly ImportedPiece[], what: "imported" | "known"): Record<string, number> => {
  const sum: Record<string, number> = {};
  for (const piece of pieces) {
    for (const [kind, amount] of Object.entries(piece[what])) sum[kind] = (sum[kind] ?? 0) + amount;
  }
  return sum;
};

/** The lines of an export as every store that holds the same writes them. */
export function comparable(lines: Written["lines"]): unknown[] {
  return lines.flatMap((line) => {
    if (line["kind"] === "tidemark-export" || line["kind"] === "in-force") return [];
    if (line["kind"] === "end") return [{ ...(line["counts"] as object), "in-force": 0 }];
    if (line["kind"] !== "set") return [line];
    const own = (of: unknown): object => ({ ...(of as object), store: null, set_seq: null });
    const earlier = line["earlier"] as { readonly set: object }[];
    return [{ ...line, set: own(line["set"]), earlier: earlier.map((each) => ({ ...each, set: own(each.set) })) }];
  });
}
