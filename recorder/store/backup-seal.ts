/**
 * The check sum at the end of a backup. SQLite's own check finds a broken structure, not a digit that has become another one
 * on a stick in a drawer; so the last 88 bytes of a backup are one line of text with the SHA-256 of all bytes before it.
 * SQLite reads a file as far as its header says and never looks at that line: a backup is an ordinary database file.
 */
import { createHash } from "node:crypto";
import { closeSync, fdatasyncSync, fstatSync, fsyncSync, openSync, readSync, writeSync } from "node:fs";

/** Of a line such as `tidemark-backup sha256 <64 hex digits>`, its end included. */
const HEAD = "tidemark-backup sha256 ";
export const SEAL_BYTES = HEAD.length + 64 + 1;
const CHUNK_BYTES = 1024 * 1024;
/** Synced in small pieces, so that a slow card is never taken up for seconds while sets wait for it. */
const SYNC_BYTES = 8 * CHUNK_BYTES;

/** Writes the seal behind a file that is otherwise done, and all of it to the disk. The size with it, bytes. */
export function seal(path: string): number {
  const file = openSync(path, "r+");
  try {
    const { size } = fstatSync(file);
    const line = Buffer.from(`${HEAD}${sumOf(file, size)}\n`);
    writeSync(file, line, 0, line.length, size);
    fsyncSync(file);
    return size + line.length;
  } finally {
    closeSync(file);
  }
}

/** What a file's end says: the sum that was sealed and the bytes it is of; null: it has no seal. */
export function sealOf(path: string): { readonly sum: string; readonly bytes: number } | null {
  const file = openSync(path, "r");
  try {
    const bytes = fstatSync(file).size - SEAL_BYTES;
    if (bytes <= 0) return null;
    const line = Buffer.alloc(SEAL_BYTES);
    readSync(file, line, 0, SEAL_BYTES, bytes);
    const found = /^tidemark-backup sha256 ([0-9a-f]{64})\n$/.exec(line.toString("latin1"));
    return found === null ? null : { sum: found[1]!, bytes };
  } finally {
    closeSync(file);
  }
}

/** The first `bytes` of a file as a file of their own, on the disk when it returns; their SHA-256, lower-case hex. */
export function copySynced(from: string, to: string, bytes: number): string {
  const source = openSync(from, "r");
  try {
    const target = openSync(to, "w", 0o640);
    try {
      let unsynced = 0;
      const sum = sumOf(source, bytes, (piece) => {
        for (let at = 0; at < piece.length; ) at += writeSync(target, piece, at);
        unsynced += piece.length;
        if (unsynced < SYNC_BYTES) return;
        fdatasyncSync(target);
        unsynced = 0;
      });
      fsyncSync(target);
      return sum;
    } finally {
      closeSync(target);
    }
  } finally {
    closeSync(source);
  }
}

function sumOf(file: number, bytes: number, take: (piece: Buffer) => void = () => {}): string {
  const hash = createHash("sha256");
  const chunk = Buffer.alloc(CHUNK_BYTES);
  for (let at = 0; at < bytes; ) {
    const length = readSync(file, chunk, 0, Math.min(chunk.length, bytes - at), at);
    // It became shorter while it was read: the sum of what was there tells.
    if (length === 0) break;
    const piece = chunk.subarray(0, length);
    hash.update(piece);
    take(piece);
    at += length;
  }
  return hash.digest("hex");
}
