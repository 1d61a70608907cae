/** The lines of a file, one after the other, however large it is: no more than one of them is in memory. */
import { readSync } from "node:fs";

export interface RawLine {
  /** From 1. */
  readonly number: number;
  /** Without its line end. */
  readonly bytes: Buffer;
  /** false: the file ends here without a line end. */
  readonly ended: boolean;
}

const LF = 0x0a;
const CHUNK_BYTES = 256 * 1024;

/** `file` is open for reading, from its start. The last thing given may be the number of a line over the cap. */
export function* rawLines(file: number, cap_bytes: number): Generator<RawLine | { readonly too_long: number }> {
  let parts: Buffer[] = [];
  let held = 0;
  let number = 1;
  for (let position = 0; ; ) {
    // Anew each time: a line that was given may still be looked at.
    const chunk = Buffer.allocUnsafe(CHUNK_BYTES);
    const length = readSync(file, chunk, 0, CHUNK_BYTES, position);
    if (length === 0) break;
    position += length;
    const read = chunk.subarray(0, length);
    for (let start = 0; start < length; ) {
      const lf = read.indexOf(LF, start);
      const part = read.subarray(start, lf === -1 ? length : lf);
      held += part.length;
      if (held > cap_bytes) {
        yield { too_long: number };
        return;
      }
      parts.push(part);
      if (lf === -1) break;
      yield { number, bytes: joined(parts), ended: true };
      parts = [];
      held = 0;
      number += 1;
      start = lf + 1;
    }
  }
  if (held > 0) yield { number, bytes: joined(parts), ended: false };
}

const joined = (parts: readonly Buffer[]): Buffer => (parts.length === 1 ? (parts[0] as Buffer) : Buffer.concat(parts));
