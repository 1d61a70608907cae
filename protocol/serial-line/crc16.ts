/**
 * CRC-16/IBM-3740, also called CCITT-FALSE: polynomial 1021, start FFFF, not reflected, nothing added at the end.
 * "123456789" gives 29B1 (catalogue of parametrised CRC algorithms).
 *
 * Over the character codes of a latin1 string, so that a line is summed where it stands, without being copied. Of lines
 * of one length, any damage within 16 neighbouring bits is found for certain; anything else slips by once in 65,536.
 */
const POLYNOMIAL = 0x1021;
const START = 0xffff;

const TABLE = Uint16Array.from({ length: 256 }, (_, byte) => {
  let remainder = byte << 8;
  for (let bit = 0; bit < 8; bit++) remainder = remainder & 0x8000 ? (remainder << 1) ^ POLYNOMIAL : remainder << 1;
  return remainder;
});

/** The check sum of `text` from index `from` up to, not including, `to`. */
export function crc16(text: string, from = 0, to = text.length): number {
  let sum = START;
  for (let at = from; at < to; at++) {
    sum = ((sum << 8) & 0xffff) ^ TABLE[(sum >> 8) ^ (text.charCodeAt(at) & 0xff)]!;
  }
  return sum;
}

/** As a line carries it: four upper-case hex digits. */
export function checkSumText(sum: number): string {
  return sum.toString(16).toUpperCase().padStart(4, "0");
}
