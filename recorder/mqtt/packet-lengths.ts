/**
 * Follows the packets of a byte stream by their fixed headers alone (MQTT 3.1.1 section 2.2), so that one that would be too
 * long is known by its first five bytes, before any more of it is taken in.
 */

/** Bits of a remaining length that one byte carries, and of the most bytes that one may have, section 2.2.3. */
const BITS = 7;
const MOST_BITS = 4 * BITS;
const MORE_FOLLOW = 0x80;

export class PacketLengths {
  readonly #longest: number;
  /** What is still to come of the packet that has begun, after its fixed header. */
  #rest = 0;
  /** Where in a fixed header we are: null before its first byte, then the bits its length has so far. */
  #bits: number | null = null;

  /** `longest`: the most bytes after the fixed header. */
  constructor(longest: number) {
    this.#longest = longest;
  }

  /** The bytes that came next; false: a packet is announced that is too long, or whose length is none. */
  take(bytes: Uint8Array): boolean {
    let at = 0;
    while (at < bytes.length) {
      if (this.#bits === null) {
        const over = Math.min(this.#rest, bytes.length - at);
        this.#rest -= over;
        at += over;
        if (at === bytes.length) return true;
        this.#bits = 0;
        at += 1;
      } else {
        const byte = bytes[at] ?? 0;
        at += 1;
        this.#rest += (byte & ~MORE_FOLLOW) << this.#bits;
        this.#bits += BITS;
        if (this.#rest > this.#longest) return false;
        if ((byte & MORE_FOLLOW) === 0) this.#bits = null;
        else if (this.#bits >= MOST_BITS) return false;
      }
    }
    return true;
  }
}
