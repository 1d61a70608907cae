import { readFileSync } from "node:fs";
import { crc32, deflateRawSync } from "node:zlib";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { InputLog } from "../../../recorder/ports.ts";
import { decodeInputLog, encodeInputLog, joinInputLogs } from "../../../recorder/store/input-log.ts";
import { inventedLog, plainLog } from "./invented.ts";

function decoded(bytes: Uint8Array): InputLog {
  const result = decodeInputLog(bytes);
  if (!result.ok) throw new Error(result.message);
  return plainLog(result.log);
}

function faultOf(bytes: Uint8Array): string {
  const result = decodeInputLog(bytes);
  return result.ok ? "none" : result.fault;
}

/** A log around any body, with a right check sum: what only a program that means it could write. */
function sealed(body: Uint8Array, format = 1, cells = 1): Uint8Array {
  const packed = deflateRawSync(body);
  const bytes = Buffer.alloc(6 + packed.length);
  bytes.set([format, cells]);
  bytes.set(packed, 6);
  bytes.writeUInt32LE(crc32(Buffer.concat([bytes.subarray(0, 2), packed])), 2);
  return bytes;
}

/** JSON values as JSON can say them: it has no minus zero. */
const json = fc.jsonValue().map((value) => JSON.parse(JSON.stringify(value)) as unknown);
const whole = fc.oneof(
  fc.integer({ min: -(2 ** 23), max: 2 ** 23 }),
  fc.integer({ min: -(2 ** 51), max: 2 ** 51 }),
  fc.constantFrom(0, -1, 63, 64, -64, -65, 127, 128, 2 ** 31, 2 ** 32, -(2 ** 32), 2 ** 51, -(2 ** 51)),
);
const anyLog: fc.Arbitrary<InputLog> = fc
  .tuple(
    json,
    fc.array(fc.tuple(whole, whole)),
    fc.array(fc.record({ before: fc.nat(), event: json }, { noNullPrototype: true })),
  )
  .map(([arm, readings, events]) => ({
    arm,
    at_us: readings.map(([at_us]) => at_us),
    counts: readings.map(([, counts]) => counts),
    events,
  }));

describe("a log as bytes", () => {
  test("comes back as it went in", () => {
    fc.assert(
      fc.property(anyLog, (log) => {
        expect(decoded(encodeInputLog(log))).toStrictEqual(log);
      }),
      { numRuns: 500 },
    );
  });

  test("is cut anywhere, or has any one bit flipped, and is a failure", () => {
    const bytes = encodeInputLog(inventedLog(7, 60));
    for (let length = 0; length < bytes.length; length++) {
      expect(decodeInputLog(bytes.subarray(0, length)).ok).toBe(false);
    }
    for (let bit = 0; bit < bytes.length * 8; bit++) {
      const flipped = Uint8Array.from(bytes);
      flipped[bit >> 3]! ^= 1 << (bit & 7);
      expect(decodeInputLog(flipped).ok).toBe(false);
    }
  });

  test("is read from the middle of a larger buffer", () => {
    const bytes = encodeInputLog(inventedLog(3));
    const larger = new Uint8Array(bytes.length + 20);
    larger.set(bytes, 13);
    expect(decoded(larger.subarray(13, 13 + bytes.length))).toStrictEqual(inventedLog(3));
  });

  test("knows its arm without one", () => {
    expect(decoded(encodeInputLog({ ...inventedLog(3, 1), arm: undefined })).arm).toBeNull();
  });

  test("refuses what no set has", () => {
    const log = inventedLog(1, 3);
    expect(() => encodeInputLog({ ...log, counts: [1, 2] })).toThrow(RangeError);
    expect(() => encodeInputLog({ ...log, counts: [1, 2, 2.5] })).toThrow(RangeError);
    expect(() => encodeInputLog({ ...log, counts: [1, 2, Number.NaN] })).toThrow(RangeError);
    expect(() => encodeInputLog({ ...log, counts: [1, 2, 2 ** 53] })).toThrow(RangeError);
    expect(() => encodeInputLog({ ...log, arm: "x".repeat(17 * 1024 * 1024) })).toThrow(RangeError);
  });
});

describe("bytes that are no log", () => {
  test("never throw", () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), (bytes) => {
        expect(decodeInputLog(bytes).ok).toBe(false);
      }),
      { numRuns: 2000 },
    );
  });

  test("never throw behind a right check sum either, and take no more memory than they hold", () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 60 }), (body) => {
        const result = decodeInputLog(sealed(body));
        if (result.ok) expect(encodeInputLog(result.log)[0]).toBe(1);
        else expect(result.fault).toBe("malformed");
      }),
      { numRuns: 2000 },
    );
  });

  test("are named", () => {
    const good = encodeInputLog(inventedLog(1, 3));
    expect(faultOf(good.subarray(0, 6))).toBe("too-short");
    expect(faultOf(sealed(new Uint8Array(4), 2))).toBe("unknown-format");
    expect(faultOf(sealed(new Uint8Array(4), 1, 2))).toBe("unknown-cells");
    expect(faultOf(good.subarray(0, good.length - 1))).toBe("bad-checksum");
    expect(faultOf(sealed(new Uint8Array(17 * 1024 * 1024)))).toBe("too-large");
    // "null", two readings, three bytes of them.
    expect(faultOf(sealed(Buffer.from("\x04null\x02\x00\x00\x00")))).toBe("malformed");
    // "null", no readings, no events, one byte too many.
    expect(faultOf(sealed(Buffer.from("\x04null\x00\x00\x00")))).toBe("malformed");
    expect(faultOf(sealed(Buffer.from("\x04nul!\x00\x00")))).toBe("malformed");
    expect(faultOf(sealed(Buffer.from("\x04null\xff\xff\xff\xff\xff\xff\xff\xff\xff", "latin1")))).toBe("malformed");
  });
});

describe("format 1, frozen", () => {
  const fixture = (name: string): Buffer => readFileSync(new URL(`./fixtures/${name}`, import.meta.url));

  test("is still read", () => {
    const expected = JSON.parse(fixture("input-log-1.expected.json").toString("utf8")) as InputLog;
    const bytes = Buffer.from(fixture("input-log-1.hex").toString("ascii").replace(/\s/g, ""), "hex");
    expect(decoded(bytes)).toStrictEqual(expected);
  });

  test("is laid out as its description says, field by field", () => {
    // Written by hand from the layout above the codec: "null"; 2 readings; 300 then -1; 5 then -1; no events.
    const body = Buffer.from([4, ...Buffer.from("null"), 2, 0xd8, 0x04, 0xd9, 0x04, 10, 11, 0]);
    expect(decoded(sealed(body))).toStrictEqual({ arm: null, at_us: [300, -1], counts: [5, -1], events: [] });
  });
});

test("parts join to the whole, wherever it was cut", () => {
  const log = inventedLog(11, 50);
  fc.assert(
    fc.property(fc.array(fc.nat({ max: 50 }), { maxLength: 4 }), (cuts) => {
      const edges = [0, ...cuts.sort((one, other) => one - other), 50];
      const parts = edges.slice(1).map((end, index) => {
        const start = edges[index]!;
        const events = [
          { before: start, event: { kind: "part", index } },
          { before: end, event: "end of part" },
        ];
        return {
          arm: index === 0 ? log.arm : null,
          at_us: Array.from(log.at_us).slice(start, end),
          counts: Array.from(log.counts).slice(start, end),
          events: events.map((event) => ({ ...event, before: event.before - start })),
        };
      });
      const joined = plainLog(joinInputLogs(parts));
      expect({ ...joined, events: [] }).toStrictEqual({ ...log, events: [] });
      expect(joined.events.map((event) => event.before)).toEqual(
        edges.slice(1).flatMap((end, index) => [edges[index], end]),
      );
    }),
  );
});
