/**
 * Passes bytes through, but of any line no more than one byte over the cap: the line parser behind it keeps a line until
 * its LF comes, however long that takes. The byte over the cap lets the grammar see that the line was too long. At the next
 * LF all is as before. It holds one number, whatever arrives. How soon it takes more is its owner's to say.
 */
import { Transform, type TransformCallback } from "node:stream";
import { LINE_CAP_BYTES } from "../../protocol/serial-line/lines.ts";

const LF = 0x0a;
const PASSED_BYTES = LINE_CAP_BYTES + 1;

/** Told how much was taken; calls `next` when there may be more. */
export type Took = (bytes: number, lines: number, next: () => void) => void;

export class LineCap extends Transform {
  readonly #took: Took;
  /** Bytes of the unfinished line that were passed on. */
  #passed = 0;

  constructor(took: Took = (_bytes, _lines, next) => next()) {
    super();
    this.#took = took;
  }

  override _transform(chunk: Buffer, _encoding: BufferEncoding, done: TransformCallback): void {
    // Lines that fit go on in one piece, together with their neighbours.
    let piece = 0;
    let from = 0;
    let lines = 0;
    while (from < chunk.length) {
      const lf = chunk.indexOf(LF, from);
      const end = lf < 0 ? chunk.length : lf;
      const fits = Math.min(end - from, PASSED_BYTES - this.#passed);
      if (fits < end - from) {
        if (from + fits > piece) this.push(chunk.subarray(piece, from + fits));
        piece = end;
      }
      this.#passed = lf < 0 ? this.#passed + fits : 0;
      if (lf >= 0) lines += 1;
      from = end + 1;
    }
    if (piece < chunk.length) this.push(chunk.subarray(piece));
    this.#took(chunk.length, lines, done);
  }
}
