/** UUID version 7 (RFC 9562, section 5.7): 48 bits of Unix time in ms, then random bits, so ids sort by time. */
import { randomBytes } from "node:crypto";

/**
 *  unix_ts_ms (48) | ver 0111 (4) | rand_a (12) | var 10 (2) | rand_b (62)
 *
 * `random` stands in for the 80 random bits' source in tests.
 */
export function uuidv7(unix_ms: number, random: (bytes: number) => Uint8Array = randomBytes): string {
  const bytes = new Uint8Array(16);
  bytes.set(random(10), 6);
  let rest = Math.max(0, Math.floor(unix_ms));
  for (let index = 5; index >= 0; index--) {
    bytes[index] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = ((bytes[6] as number) & 0x0f) | 0x70;
  bytes[8] = ((bytes[8] as number) & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
