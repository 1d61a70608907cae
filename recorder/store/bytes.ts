/**
 * Bytes in and out for the input log: LEB128 variable-length integers (7 bits a byte, low bits first, the high bit says
 * that more follow), zigzag for signed ones (0, -1, 1, -2 become 0, 1, 2, 3), and length-prefixed JSON in UTF-8.
 * Integers are whole and within +-2^52, so device time in microseconds fits; shifts would stop at 32 bits.
 */

const LARGEST = 2 ** 52;
const LONGEST_VARINT_BYTES = 8;

export class ByteWriter {
  #bytes = new Uint8Array(4096);
  #length = 0;

  unsigned(value: number): void {
    let rest = value;
    while (rest >= 0x80) {
      this.#push((rest % 0x80) | 0x80);
      rest = Math.floor(rest / 0x80);
    }
    this.#push(rest);
  }

  /** Throws a RangeError for a value that is not whole or beyond +-2^52: such a reading is a broken program. */
  signed(value: number): void {
    if (!Number.isInteger(value) || Math.abs(value) > LARGEST) {
      throw new RangeError(`a whole number within 2^52 was expected, not ${value}`);
    }
    this.unsigned(value < 0 ? -2 * value - 1 : 2 * value);
  }

  /** Each value as its difference from the one before; the first from 0. */
  deltas(values: ArrayLike<number>): void {
    let previous = 0;
    for (let index = 0; index < values.length; index++) {
      const value = values[index]!;
      this.signed(value - previous);
      previous = value;
    }
  }

  json(value: unknown): void {
    const text = Buffer.from(JSON.stringify(value) ?? "null", "utf8");
    this.unsigned(text.length);
    this.#room(text.length);
    this.#bytes.set(text, this.#length);
    this.#length += text.length;
  }

  taken(): Uint8Array {
    return this.#bytes.subarray(0, this.#length);
  }

  #push(byte: number): void {
    this.#room(1);
    this.#bytes[this.#length++] = byte;
  }

  #room(more: number): void {
    if (this.#length + more <= this.#bytes.length) return;
    const grown = new Uint8Array(Math.max(2 * this.#bytes.length, this.#length + more));
    grown.set(this.#bytes.subarray(0, this.#length));
    this.#bytes = grown;
  }
}

/** Thrown by the reader on bytes that cannot be what was written; the decoder turns it into a value. */
export class MalformedBytes extends Error {}

export class ByteReader {
  readonly #bytes: Uint8Array;
  #at = 0;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
  }

  get left(): number {
    return this.#bytes.length - this.#at;
  }

  unsigned(): number {
    let value = 0;
    let scale = 1;
    for (let count = 0; count < LONGEST_VARINT_BYTES; count++) {
      const byte = this.#bytes[this.#at++];
      if (byte === undefined) throw new MalformedBytes("ends in the middle of a number");
      value += (byte & 0x7f) * scale;
      if (byte < 0x80) return value;
      scale *= 0x80;
    }
    throw new MalformedBytes("holds a number that is too long");
  }

  signed(): number {
    const value = this.unsigned();
    return value % 2 === 0 ? value / 2 : -(value + 1) / 2;
  }

  /** A count of things of at least `each_bytes` that must still fit, so that a bad count cannot ask for memory. */
  count(each_bytes: number): number {
    const count = this.unsigned();
    if (count * each_bytes > this.left) throw new MalformedBytes("counts more than it holds");
    return count;
  }

  deltas(count: number): Float64Array {
    const values = new Float64Array(count);
    let previous = 0;
    for (let index = 0; index < count; index++) {
      previous += this.signed();
      values[index] = previous;
    }
    return values;
  }

  json(): unknown {
    const length = this.count(1);
    const text = Buffer.from(this.#bytes.buffer, this.#bytes.byteOffset + this.#at, length).toString("utf8");
    this.#at += length;
    try {
      return JSON.parse(text);
    } catch {
      throw new MalformedBytes("holds text that is not JSON");
    }
  }
}
