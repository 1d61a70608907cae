/**
 * What SQLite leaves of an erased code. `secure_delete` makes zeros of a cell that is deleted and of a page that is freed, but
 * where cells move to another page of a tree, what they were stays in the unused middle of the page they left: one or two
 * in a few thousand sets, measured. Only VACUUM would clean that, at once and with twice the room; here it is done some pages at
 * a time, past SQLite: zeros into bytes that its file format (sqlite.org/fileformat2.html, sections 1.5 and 1.6 [memory])
 * calls unallocated, while the write-ahead log is empty and nobody else may write. A power cut in the middle leaves some of them
 * zero, which means nothing to it.
 */
import { fstatSync, openSync, readSync, writeSync } from "node:fs";
import type { Database } from "./database.ts";

export interface Traces {
  /** Pages in which something was. */
  readonly cleaned: number;
  /** The last page that was looked at; null: that was all. */
  readonly after: number | null;
}

export type EraseTraces = (code: string, after: number | null) => Traces | "busy";

const PAGES_AT_ONCE = 128;

/**
 * For one store. The file is opened once and never closed here: closing any handle of a file takes this process's locks on it
 * away from SQLite. The thread's end closes it. "busy": a reader from outside keeps the log from being emptied.
 */
export function traceEraser(path: string, database: Database): EraseTraces {
  let file: number | null = null;
  return (code, from) => {
    const emptied = database.get<{ busy: number }>("PRAGMA wal_checkpoint(TRUNCATE)");
    if (emptied?.busy !== 0) return "busy";
    file ??= openSync(path, "r+");
    const handle = file;
    const page_bytes = Number(database.pragma("page_size"));
    const traces = database.transaction(() => clean(handle, page_bytes, Buffer.from(code), from ?? 0));
    // What lies in memory of these pages would be written back with the next change.
    if (traces.cleaned > 0) database.exec("PRAGMA shrink_memory");
    return traces;
  };
}

function clean(file: number, page_bytes: number, code: Buffer, from: number): Traces {
  const pages = Math.floor(fstatSync(file).size / page_bytes);
  const count = Math.min(PAGES_AT_ONCE, pages - from);
  if (count <= 0) return { cleaned: 0, after: null };
  const bytes = Buffer.alloc(count * page_bytes);
  if (readSync(file, bytes, 0, bytes.length, from * page_bytes) !== bytes.length)
    throw new Error("the file was cut short");
  const dirty = new Set<number>();
  for (let at = bytes.indexOf(code); at >= 0; at = bytes.indexOf(code, at + 1)) dirty.add(Math.floor(at / page_bytes));
  let cleaned = 0;
  for (const index of dirty) {
    const page = bytes.subarray(index * page_bytes, (index + 1) * page_bytes);
    const gap = unallocated(page, from + index + 1);
    if (gap === null || !page.subarray(gap.start, gap.end).includes(code)) continue;
    writeSync(file, Buffer.alloc(gap.end - gap.start), 0, gap.end - gap.start, (from + index) * page_bytes + gap.start);
    cleaned += 1;
  }
  return { cleaned, after: from + count };
}

const LEAF_HEADER_BYTES: Readonly<Record<number, number>> = { 2: 12, 5: 12, 10: 8, 13: 8 };
/** The bytes of a file that locks are taken on; they are never used. */
const LOCK_BYTE = 0x40000000;
/** Beyond it the first byte of a page that continues another could be taken for a tree's. */
const MOST_PAGES = 2 ** 24;

/** Between the pointers to a page's cells and the first cell; null: it is no page of a tree. Counted from 1. */
export function unallocated(page: Buffer, number: number): { readonly start: number; readonly end: number } | null {
  if (isPointerMap(page.length, number) || number >= MOST_PAGES) return null;
  const header = number === 1 ? 100 : 0;
  const header_bytes = LEAF_HEADER_BYTES[page[header] ?? 0];
  if (header_bytes === undefined) return null;
  const start = header + header_bytes + 2 * page.readUInt16BE(header + 3);
  const end = page.readUInt16BE(header + 5);
  return start < end && end <= page.length ? { start, end } : null;
}

/** Every so many pages stands one that says of the next which other leads to them, in a file that can shrink. */
function isPointerMap(page_bytes: number, number: number): boolean {
  const lock = LOCK_BYTE / page_bytes + 1;
  if (number === lock) return true;
  const every = Math.floor(page_bytes / 5) + 1;
  const first = 2 + Math.floor((number - 2) / every) * every;
  return number >= 2 && number === (first === lock ? first + 1 : first);
}
