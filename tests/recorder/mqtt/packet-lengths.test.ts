/** Checked against mqtt-packet, which reads and writes the same packets. */
import fc from "fast-check";
import { generate, parser } from "mqtt-packet";
import { expect, test } from "vitest";
import { PacketLengths } from "../../../recorder/mqtt/packet-lengths.ts";

const publish = (bytes: number): Buffer =>
  generate({ cmd: "publish", topic: "a/b", payload: Buffer.alloc(bytes, 0xff), qos: 0, retain: false, dup: false });
const LONG = publish(2_097_152);
/** One of each length of a remaining length, MQTT 3.1.1 table 2.4, and those without anything after the fixed header. */
const packets = fc.array(
  fc.oneof(
    fc.constant(generate({ cmd: "pingreq" })),
    fc.oneof({ maxDepth: 0 }, fc.nat(200), fc.integer({ min: 16_000, max: 17_000 })).map(publish),
    fc.constant(LONG),
  ),
  { minLength: 1, maxLength: 6 },
);

function longestIn(stream: Buffer): number {
  let longest = 0;
  const reading = parser();
  reading.on("packet", ({ length }) => {
    longest = Math.max(longest, length ?? 0);
  });
  reading.parse(stream);
  return longest;
}

/** `stream` in pieces of these sizes, over and over. */
function* inPieces(stream: Buffer, sizes: readonly number[]): Generator<Buffer> {
  for (let at = 0, piece = 0; at < stream.length; piece += 1) {
    const size = sizes[piece % sizes.length] ?? 1;
    yield stream.subarray(at, at + size);
    at += size;
  }
}

test("however a stream is cut, its longest packet is what it is", () => {
  fc.assert(
    fc.property(
      packets,
      fc.tuple(fc.integer({ min: 1, max: 9 }), fc.integer({ min: 1000, max: 70_000 })),
      (parts, sizes) => {
        const stream = Buffer.concat(parts);
        const longest = longestIn(stream);
        const enough = new PacketLengths(longest);
        expect([...inPieces(stream, sizes)].every((piece) => enough.take(piece))).toBe(true);
        if (longest === 0) return;
        const short = new PacketLengths(longest - 1);
        expect([...inPieces(stream, sizes)].every((piece) => short.take(piece))).toBe(false);
      },
    ),
    { numRuns: 30 },
  );
});

test("a length that never ends is none, MQTT 3.1.1 section 2.2.3", () => {
  expect(new PacketLengths(300_000_000).take(Buffer.from([0x30, 0xff, 0xff, 0xff, 0x7f]))).toBe(true);
  expect(new PacketLengths(300_000_000).take(Buffer.from([0x30, 0x80, 0x80, 0x80, 0x80]))).toBe(false);
});
