/** Cuts a byte stream into lines with a cap: LF ends a line, a CR before it is ignored, empty lines are nothing. */

/** The longest line a door reads, in bytes up to the LF; it bounds what one connection can make us hold. */
export const LINE_BYTES = 64 * 1024;

export interface LineReader {
  /** The lines that end in this chunk. A line over the cap is the last thing taken: nothing after it is read. */
  take(chunk: Uint8Array): readonly (Buffer | "too-long")[];
}

export function createLineReader(cap_bytes: number = LINE_BYTES): LineReader {
  let held = Buffer.allocUnsafe(256);
  let length = 0;
  let over = false;

  const append = (part: Uint8Array): void => {
    const needed = length + part.length;
    if (needed > held.length) {
      // Doubling, so that a line that comes byte by byte does not cost its square.
      const grown = Buffer.allocUnsafe(2 * needed);
      held.copy(grown, 0, 0, length);
      held = grown;
    }
    held.set(part, length);
    length = needed;
  };

  return {
    take(chunk) {
      const lines: (Buffer | "too-long")[] = [];
      for (let start = 0; !over; ) {
        const lf = chunk.indexOf(LF, start);
        const part = chunk.subarray(start, lf === -1 ? chunk.length : lf);
        // One byte over the cap may be held: it is too much only if it is not the CR before an LF.
        if (length + part.length <= cap_bytes + 1) append(part);
        else over = true;
        if (lf === -1 && !over) break;
        const end = held[length - 1] === CR ? length - 1 : length;
        over ||= end > cap_bytes;
        if (over) lines.push("too-long");
        else if (end > 0) lines.push(Buffer.from(held.subarray(0, end)));
        length = 0;
        start = lf + 1;
      }
      return lines;
    },
  };
}

const LF = 0x0a;
const CR = 0x0d;
