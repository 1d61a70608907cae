/**
 * The input log of a set as bytes, the form it is kept in. Decides nothing about what the inputs mean.
 *
 *     F C KKKK B...
 *     F     format, 1
 *     C     cells, 1
 *     KKKK  CRC-32 (ISO-HDLC, as in zip and PNG) over F, C and B, little-endian
 *     B     body, raw DEFLATE (RFC 1951)
 *
 *     body  arm          length, JSON
 *           readings     count n
 *           at_us        n zigzag varint deltas, device microseconds
 *           counts       n zigzag varint deltas
 *           events       count, then each: `before` as a zigzag varint delta, length, JSON
 *
 * Times and counts come back exactly as they went in. The check sum is worth its four bytes: DEFLATE has none of its own,
 * and a set with one flipped bit would otherwise replay to another best. With it every flip of up to 32 neighbouring bits
 * is found for certain and any other damage, truncation included, but once in 2^32.
 *
 * Readers for every format ever written stay here, each with a frozen example among the tests.
 */
import { constants, crc32, deflateRawSync, inflateRawSync } from "node:zlib";
import type { InputLog } from "../ports.ts";
import { ByteReader, ByteWriter, MalformedBytes } from "./bytes.ts";

const FORMAT = 1;
const CELLS = 1;
const HEAD_BYTES = 6;
/** An hour at 94 readings a second with every number at its longest is 5.4 MB; anything beyond this is not a set. */
const BODY_CAP_BYTES = 16 * 1024 * 1024;

export type LogFault = "too-short" | "unknown-format" | "unknown-cells" | "bad-checksum" | "too-large" | "malformed";

export type DecodedLog =
  | { readonly ok: true; readonly log: InputLog }
  | { readonly ok: false; readonly fault: LogFault; readonly message: string };

/**
 * A log as bytes. `arm` and events must be JSON values (`undefined` becomes null).
 * Throws a RangeError for columns of different lengths, numbers that are not whole, or more than 16 MiB.
 */
export function encodeInputLog(log: InputLog): Uint8Array {
  if (log.at_us.length !== log.counts.length) {
    throw new RangeError(`as many times as counts were expected, not ${log.at_us.length} and ${log.counts.length}`);
  }
  const body = new ByteWriter();
  body.json(log.arm);
  body.unsigned(log.at_us.length);
  body.deltas(log.at_us);
  body.deltas(log.counts);
  body.unsigned(log.events.length);
  let before = 0;
  for (const event of log.events) {
    body.signed(event.before - before);
    before = event.before;
    body.json(event.event);
  }
  const plain = body.taken();
  if (plain.length > BODY_CAP_BYTES) throw new RangeError("a log of more than 16 MiB is not one of a set");
  const deflated = deflateRawSync(plain);
  const bytes = new Uint8Array(HEAD_BYTES + deflated.length);
  bytes[0] = FORMAT;
  bytes[1] = CELLS;
  bytes.set(deflated, HEAD_BYTES);
  new DataView(bytes.buffer).setUint32(2, checkSum(bytes), true);
  return bytes;
}

/** The log in `bytes`, or what is wrong with them. Never throws, whatever the bytes. */
export function decodeInputLog(bytes: Uint8Array): DecodedLog {
  if (bytes.length <= HEAD_BYTES) return bad("too-short", "it is shorter than its head");
  if (bytes[0] !== FORMAT) return bad("unknown-format", `its format is ${bytes[0]}, and this program reads 1`);
  if (bytes[1] !== CELLS) return bad("unknown-cells", `it has ${bytes[1]} cells, and this program reads 1`);
  const expected = new DataView(bytes.buffer, bytes.byteOffset, bytes.length).getUint32(2, true);
  if (checkSum(bytes) !== expected) return bad("bad-checksum", "its check sum does not match its content");
  try {
    return { ok: true, log: readBody(inflateRawSync(bytes.subarray(HEAD_BYTES), INFLATE)) };
  } catch (error) {
    if (error instanceof MalformedBytes) return bad("malformed", `it ${error.message}`);
    const code = error instanceof Error && "code" in error ? error.code : null;
    if (code === "ERR_BUFFER_TOO_LARGE") return bad("too-large", "it inflates to more than 16 MiB");
    if (typeof code === "string" && code.startsWith("Z_")) return bad("malformed", "it does not inflate");
    throw error;
  }
}

/** Whether this text stands anywhere in the log, without reading it as one: ten times as quick. null: it cannot be read. */
export function logMentions(bytes: Uint8Array, text: string): boolean | null {
  if (bytes.length <= HEAD_BYTES || bytes[0] !== FORMAT || bytes[1] !== CELLS) return null;
  try {
    return inflateRawSync(bytes.subarray(HEAD_BYTES), INFLATE).includes(text);
  } catch {
    return null;
  }
}

const INFLATE = { maxOutputLength: BODY_CAP_BYTES, finishFlush: constants.Z_FINISH } as const;

function readBody(body: Uint8Array): InputLog {
  const reader = new ByteReader(body);
  const arm = reader.json();
  // A reading is at least one byte in each column.
  const readings = reader.count(2);
  const at_us = reader.deltas(readings);
  const counts = reader.deltas(readings);
  const events: { before: number; event: unknown }[] = [];
  let before = 0;
  for (let left = reader.count(2); left > 0; left--) {
    before += reader.signed();
    events.push({ before, event: reader.json() });
  }
  if (reader.left > 0) throw new MalformedBytes("goes on after its end");
  return { arm, at_us, counts, events };
}

/** Over everything but the check sum's own four bytes. */
function checkSum(bytes: Uint8Array): number {
  return crc32(bytes.subarray(HEAD_BYTES), crc32(bytes.subarray(0, 2)));
}

const bad = (fault: LogFault, why: string): DecodedLog => ({
  ok: false,
  fault,
  message: `the input log cannot be read: ${why}`,
});

/** Parts of one set as one log, in the order given. `arm` is the first part's; a part counts `before` from its own start. */
export function joinInputLogs(parts: readonly InputLog[]): InputLog {
  const readings = parts.reduce((sum, part) => sum + part.at_us.length, 0);
  const at_us = new Float64Array(readings);
  const counts = new Float64Array(readings);
  const events: { before: number; event: unknown }[] = [];
  let start = 0;
  for (const part of parts) {
    at_us.set(part.at_us, start);
    counts.set(part.counts, start);
    for (const { before, event } of part.events) events.push({ before: start + before, event });
    start += part.at_us.length;
  }
  return { arm: parts[0]?.arm ?? null, at_us, counts, events };
}
