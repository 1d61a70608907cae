import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { checkSumText, crc16 } from "../../../protocol/serial-line/crc16.ts";
import { decodeDeviceLine, decodeHostLine } from "../../../protocol/serial-line/decode.ts";
import { encodeDeviceLine, encodeHostLine } from "../../../protocol/serial-line/encode.ts";
import type { DeviceLine } from "../../../protocol/serial-line/lines.ts";
import { arbitraryDeviceLine, arbitraryHostLine, arbitraryReading } from "./arbitrary-lines.ts";

const summed = (body: string) => `${body}*${checkSumText(crc16(body))}`;
const outcome = (text: string) => {
  const line = decodeDeviceLine(text);
  return line.kind === "rejected" ? line.reject : line.kind;
};

describe("a device line", () => {
  it("says the same after it was written and read", () => {
    fc.assert(
      fc.property(arbitraryDeviceLine, (line) => {
        expect(decodeDeviceLine(encodeDeviceLine(line))).toEqual(line);
      }),
    );
  });

  it("may carry further fields, which are ignored", () => {
    const further = fc.array(fc.string({ unit: fc.constantFrom(..."abc019!~-+()"), maxLength: 5 }), { maxLength: 3 });
    fc.assert(
      fc.property(arbitraryDeviceLine, further, (line, fields) => {
        const body = encodeDeviceLine(line).slice(0, -5);
        // The muscle action may be absent only where nothing follows it.
        const known = line.kind === "reading" && line.muscle_action === null && fields.length > 0 ? `${body},` : body;
        const text = summed([known, ...fields].join(","));
        if (text.length > 120) return;
        expect(decodeDeviceLine(text)).toEqual(line);
      }),
    );
  });

  it.each([
    ["a body of 115 with its sum: 120 bytes", summed(`R,1,2,3,,${"x".repeat(106)}`), "reading"],
    ["119 bytes and a CR", `${summed(`R,1,2,3,,${"x".repeat(105)}`)}\r`, "reading"],
    ["121 bytes", summed(`R,1,2,3,,${"x".repeat(107)}`), "too-long"],
    ["120 bytes and a CR", `${summed(`R,1,2,3,,${"x".repeat(106)}`)}\r`, "too-long"],
    ["nothing", "", "no-checksum"],
    ["only a CR", "\r", "no-checksum"],
    ["only digits of a sum", "29B1", "no-checksum"],
    ["lower-case digits", summed("R,1,2,3").toLowerCase().replace("r", "R"), "no-checksum"],
    ["three digits", "R,1,2,3*9DC", "no-checksum"],
    ["five digits", "R,1,2,3*9DC10", "no-checksum"],
    ["a body of nothing", summed(""), "unknown-kind"],
    ["a space at the end", `${summed("R,1,2,3")} `, "no-checksum"],
    ["two CRs", `${summed("R,1,2,3")}\r\r`, "no-checksum"],
    ["a kind in lower case", summed("r,1,2,3"), "unknown-kind"],
    ["cell 1 by number", summed("R1,1,2,3"), "unknown-kind"],
    ["a fifth cell", summed("R5,1,2,3"), "unknown-kind"],
    ["no field", summed("R"), "unknown-kind"],
    ["fields missing", summed("R,"), "bad-field"],
    ["counts missing", summed("R,1,2"), "bad-field"],
    ["counts empty", summed("R,1,2,"), "bad-field"],
    ["a plus", summed("R,1,2,+3"), "bad-field"],
    ["a leading zero", summed("R,1,02,3"), "bad-field"],
    ["only a minus", summed("R,1,2,-"), "bad-field"],
    ["a fraction", summed("R,1,2,3.5"), "bad-field"],
    ["an asterisk within", summed("R,1,2,3,,a*b"), "bad-field"],
    ["a byte over 0x7E within", summed("R,1,2,3,,a\x7f"), "bad-field"],
    ["a space within", summed("R,1,2,3,,a b"), "bad-field"],
    ["0x21 and 0x7E within", summed("R,1,2,3,,!~"), "reading"],
    ["an asterisk in another kind", summed("K,1,2,1,d,*"), "bad-field"],
    ["a longer muscle action", summed("R,1,2,3,cc"), "bad-field"],
    ["counts at the top", summed("R,1,2,8388607"), "reading"],
    ["counts over the top", summed("R,1,2,8388608"), "out-of-range"],
    ["counts at the bottom", summed("R,1,2,-8388608"), "reading"],
    ["counts under the bottom", summed("R,1,2,-8388609"), "out-of-range"],
    ["the last seq", summed("R,65535,2,3"), "reading"],
    ["a seq over it", summed("R,65536,2,3"), "out-of-range"],
    ["a seq under 0", summed("R,-1,2,3"), "out-of-range"],
    ["the last time", summed("R,1,4294967295,3"), "reading"],
    ["a time over it", summed("R,1,4294967296,3"), "out-of-range"],
    ["a number of many digits", summed(`R,1,2,${"9".repeat(90)}`), "out-of-range"],
    ["bad before out of range", summed("R,65536,2,x"), "bad-field"],
    ["key 1", summed("K,1,2,1,u"), "key"],
    ["key 255", summed("K,1,2,255,u"), "key"],
    ["key 256", summed("K,1,2,256,u"), "out-of-range"],
    ["a key neither up nor down", summed("K,1,2,1,x"), "bad-field"],
    ["a tag of 32", summed(`T,1,2,${"a".repeat(32)}`), "tag"],
    ["a tag of 33", summed(`T,1,2,${"a".repeat(33)}`), "bad-field"],
    ["an empty tag", summed("T,1,2,"), "bad-field"],
    ["a tag of other letters", summed("T,1,2,band+1"), "bad-field"],
    ["command 0", summed("A,1,2,0,ok"), "out-of-range"],
    ["command 65535", summed("A,1,2,65535,ok"), "answer"],
    ["command 65536", summed("A,1,2,65536,ok"), "out-of-range"],
    ["an answer of neither kind", summed("A,1,2,3,maybe"), "bad-field"],
    ["a boot of three digits", summed("H,1,2,tm1,a,b,c,80,128,5e2"), "bad-field"],
    ["a rate of 0", summed("H,1,2,tm1,a,b,c,0,128,5e21"), "out-of-range"],
    ["a gain of 65536", summed("H,1,2,tm1,a,b,c,80,65536,5e21"), "out-of-range"],
    ["a hello without a stamp", summed("H,,,tm1,a,b,c,80,128,5e21"), "bad-field"],
  ])("%s", (_, text, expected) => {
    expect(outcome(text)).toBe(expected);
  });

  it("keeps the seq of an unknown kind, and of no other reject", () => {
    expect(decodeDeviceLine(summed("Z,12,150000"))).toEqual({
      kind: "rejected",
      reject: "unknown-kind",
      seq: 12,
      t_us: 150_000,
    });
    expect(decodeDeviceLine(summed("Z,65536,x"))).toMatchObject({ seq: null, t_us: null });
    expect(decodeDeviceLine(summed("K,12,150000,1,x"))).toMatchObject({ reject: "bad-field", seq: null });
  });

  it("never throws over any bytes, nor reads what it would not write", () => {
    const bytes = fc.string({ unit: fc.integer({ min: 0, max: 255 }).map((code) => String.fromCharCode(code)) });
    fc.assert(
      fc.property(bytes, fc.boolean(), (text, sum) => {
        const line = decodeDeviceLine(sum ? summed(text) : text);
        if (line.kind !== "rejected") expect(decodeDeviceLine(encodeDeviceLine(line))).toEqual(line);
      }),
    );
  });
});

describe("a damaged reading is never another reading", () => {
  const same = (damaged: string, line: DeviceLine) => {
    const read = decodeDeviceLine(damaged);
    if (read.kind !== "rejected") expect(read).toEqual(line);
  };
  const GOOD = ["R,1,14343,84123*9DC1", "R,2,26843,-84123,c*91AF", "R,65535,4294967295,8388607*B374"];
  const every = Array.from({ length: 256 }, (_, code) => String.fromCharCode(code));

  it("with any byte replaced: the check sum finds these for certain", () => {
    fc.assert(
      fc.property(arbitraryReading, fc.nat(), fc.constantFrom(...every), (line, where, byte) => {
        const text = encodeDeviceLine(line);
        const at = where % text.length;
        same(text.slice(0, at) + byte + text.slice(at + 1), line);
      }),
      { numRuns: 5000 },
    );
  });

  it.each(GOOD)("with any one byte deleted, replaced or inserted, all of them tried: %s", (text) => {
    const line = decodeDeviceLine(text) as DeviceLine;
    for (let at = 0; at <= text.length; at++) {
      const before = text.slice(0, at);
      same(before + text.slice(at + 1), line);
      for (const byte of every) {
        same(before + byte + text.slice(at + 1), line);
        same(before + byte + text.slice(at), line);
      }
    }
  });

  it("with a digit inserted or deleted: 16 bits let about one in 65,536 of those by, not more", () => {
    let tried = 0;
    let fooled = 0;
    fc.assert(
      fc.property(arbitraryReading, (line) => {
        const text = encodeDeviceLine(line);
        for (let at = 2; at < text.length - 5; at++) {
          for (const digit of ["", ..."0123456789"]) {
            const read = decodeDeviceLine(text.slice(0, at) + digit + text.slice(digit === "" ? at + 1 : at));
            tried++;
            if (read.kind !== "rejected" && JSON.stringify(read) !== JSON.stringify(line)) fooled++;
          }
        }
      }),
      { numRuns: 1500 },
    );
    expect(tried).toBeGreaterThan(150_000);
    // About 5 are expected by chance; 30 would be a weak sum.
    expect(fooled).toBeLessThan(30);
  });
});

describe("a host line", () => {
  it("says the same after it was written and read, within 40 bytes", () => {
    fc.assert(
      fc.property(arbitraryHostLine, (line) => {
        const text = encodeHostLine(line);
        expect(text.length).toBeLessThanOrEqual(40);
        expect(decodeHostLine(text)).toEqual(line);
        expect(decodeHostLine(`${text}\r`)).toEqual(line);
      }),
    );
  });

  it.each([
    summed("I,0"),
    summed("I,65536"),
    summed("I"),
    summed("L,1,0,on"),
    summed("L,1,10,on"),
    summed("L,1,1,dim"),
    summed("G,1,32"),
    summed("S,1,20"),
    summed("Q,1"),
    summed("I,1, "),
    summed(`I,1,${"x".repeat(32)}`),
    "I,3*0A1C",
    "I,3*0a1b",
    "",
  ])("is nothing a board would obey: %s", (text) => {
    expect(decodeHostLine(text)).toBeNull();
  });

  it("is 40 bytes at most", () => {
    expect(decodeHostLine(summed(`I,1,${"x".repeat(31)}`))).toEqual({ kind: "identify", command: 1 });
  });
});

describe("what no line can say", () => {
  it("is a fault of the program", () => {
    const stamp = { seq: 1, t_us: 2 };
    expect(() => encodeDeviceLine({ kind: "tag", ...stamp, tag: "two words" })).toThrow("bad-field");
    expect(() => encodeDeviceLine({ kind: "key", ...stamp, key: 0, pressed: true })).toThrow("out-of-range");
    expect(() => encodeHostLine({ kind: "identify", command: 0 })).toThrow("No host line");
  });
});
