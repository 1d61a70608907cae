/**
 * The file of an export as it is written: under another name until it is whole and on the disk, in steps that leave the disk
 * time for others, and never so far that the disk is full.
 */
import { createHash } from "node:crypto";
import {
  closeSync,
  existsSync,
  fdatasyncSync,
  fsyncSync,
  openSync,
  renameSync,
  rmSync,
  statfsSync,
  writeSync,
} from "node:fs";
import { dirname } from "node:path";
import type { ErrorCode } from "../../protocol/vocabulary.ts";
import { syncPath } from "./migrations.ts";

/** Why no file was made, as one sentence of the program's own. */
export class NotExported extends Error {
  readonly code: ErrorCode;
  readonly hint: string | undefined;

  constructor(code: ErrorCode, message: string, hint?: string) {
    super(message);
    this.code = code;
    this.hint = hint;
  }
}

export interface LineFile {
  /** One object, one line; false: it is longer than `cap_bytes`, and is not written. */
  line(object: object, cap_bytes?: number): boolean;
  /** SHA-256 of all lines so far, lower-case hex. */
  sum(): string;
  /** Makes it last and gives it its name; its size in bytes. */
  finish(): number;
  /** Leaves nothing behind. */
  abandon(): void;
}

/** What it is called until it is whole. */
export const partialOf = (path: string): string => `${path}.partial`;

const PIECE_BYTES = 1024 * 1024;
/** Written and synced in one go this much would hold up the store's own commits on a slow card. */
const SYNC_BYTES = 8 * PIECE_BYTES;
/** Left to those who keep sets, on the disk that the store is on. */
export const LEFT_FREE_BYTES = 64 * 1024 * 1024;

/** `left_free_bytes` stay free on its disk. Throws what the file system throws, and NotExported. Its group may read the file: who asked for it is rarely its owner. */
export function openLineFile(path: string, left_free_bytes = 0): LineFile {
  const partial = partialOf(path);
  const file = openSync(partial, "w", 0o640);
  const hash = createHash("sha256");
  let pieces: Buffer[] = [];
  let held = 0;
  let written = 0;
  let unsynced = 0;

  const flush = (): void => {
    const { bavail, bsize } = statfsSync(dirname(path));
    if (bavail * bsize < left_free_bytes + held) {
      throw new NotExported(
        "storage",
        "The disk there is nearly full: make room on it, or name a folder on another one.",
      );
    }
    const bytes = Buffer.concat(pieces);
    for (let at = 0; at < bytes.length; ) at += writeSync(file, bytes, at);
    written += bytes.length;
    unsynced += bytes.length;
    pieces = [];
    held = 0;
    if (unsynced < SYNC_BYTES) return;
    fdatasyncSync(file);
    unsynced = 0;
  };

  return {
    line(object, cap_bytes = Number.POSITIVE_INFINITY) {
      const bytes = Buffer.from(`${JSON.stringify(object)}\n`);
      if (bytes.length - 1 > cap_bytes) return false;
      hash.update(bytes);
      pieces.push(bytes);
      held += bytes.length;
      if (held >= PIECE_BYTES) flush();
      return true;
    },
    sum: () => hash.copy().digest("hex"),
    finish() {
      flush();
      fsyncSync(file);
      closeSync(file);
      if (existsSync(path)) {
        rmSync(partial, { force: true });
        throw new NotExported(
          "not-permitted",
          `${path} came to be there meanwhile, and nothing is written over: name another file.`,
        );
      }
      renameSync(partial, path);
      syncPath(dirname(path));
      return written;
    },
    abandon() {
      try {
        closeSync(file);
      } catch {
        // Closed already.
      }
      rmSync(partial, { force: true });
    },
  };
}
