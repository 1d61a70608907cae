import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { checkSumText, crc16 } from "../../../protocol/serial-line/crc16.ts";

/** Bit by bit, after the catalogue's parameters: nothing in common with the table under test. */
function catalogueCrc(text: string, parameters: { poly: number; init: number; reflected: boolean; xorout: number }) {
  let sum = parameters.init;
  for (const character of text) {
    const byte = character.charCodeAt(0);
    for (let bit = 0; bit < 8; bit++) {
      const next = (parameters.reflected ? byte >> bit : byte >> (7 - bit)) & 1;
      const out = (sum >> 15) & 1;
      sum = ((sum << 1) & 0xffff) ^ (next !== out ? parameters.poly : 0);
    }
  }
  if (parameters.reflected) sum = Number.parseInt([...sum.toString(2).padStart(16, "0")].reverse().join(""), 2);
  return sum ^ parameters.xorout;
}

// Catalogue of parametrised CRC algorithms (CRC RevEng), 16-bit entries; "check" is over "123456789".
// The MODBUS row is from memory.
const CATALOGUE = [
  { name: "CRC-16/IBM-3740", poly: 0x1021, init: 0xffff, reflected: false, xorout: 0, check: "29B1" },
  { name: "CRC-16/XMODEM", poly: 0x1021, init: 0, reflected: false, xorout: 0, check: "31C3" },
  { name: "CRC-16/GSM", poly: 0x1021, init: 0, reflected: false, xorout: 0xffff, check: "CE3C" },
  { name: "CRC-16/MODBUS", poly: 0x8005, init: 0xffff, reflected: true, xorout: 0, check: "4B37" },
] as const;
const latin1 = fc.string({ unit: fc.integer({ min: 0, max: 255 }).map((code) => String.fromCharCode(code)) });

describe("crc16", () => {
  it.each(CATALOGUE)("is told from the others by the check value: $name", ({ check, ...parameters }) => {
    expect(checkSumText(catalogueCrc("123456789", parameters))).toBe(check);
    expect(checkSumText(crc16("123456789")) === check).toBe(parameters.name === "CRC-16/IBM-3740");
  });

  it("agrees with the definition over any bytes", () => {
    fc.assert(fc.property(latin1, (text) => crc16(text) === catalogueCrc(text, CATALOGUE[0])));
  });

  it("sums a part where it stands", () => {
    fc.assert(
      fc.property(latin1, latin1, latin1, (before, text, after) => {
        return crc16(before + text + after, before.length, before.length + text.length) === crc16(text);
      }),
    );
  });

  it("finds any damage within 16 neighbouring bits", () => {
    const text = "R,2,26843,-84123,c";
    const bits = text.length * 8;
    for (let first = 0; first <= bits - 16; first++) {
      // A burst begins and ends with a wrong bit; a handful of the patterns between, and every first bit.
      for (const pattern of [0b1, 0b11, 0x8001, 0xffff, 0xa5a5, 0x9249]) {
        const codes = [...text].map((character) => character.charCodeAt(0));
        for (let bit = 0; bit < 16; bit++) {
          if (((pattern >> bit) & 1) === 0) continue;
          const at = first + bit;
          codes[at >> 3] = codes[at >> 3]! ^ (0x80 >> (at & 7));
        }
        expect(crc16(String.fromCharCode(...codes))).not.toBe(crc16(text));
      }
    }
  });

  it("writes four upper-case digits", () => {
    expect(checkSumText(0x0a1b)).toBe("0A1B");
    expect(checkSumText(0)).toBe("0000");
  });
});
