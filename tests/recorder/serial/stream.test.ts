import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { encodeDeviceLine } from "../../../protocol/serial-line/encode.ts";
import type { Dialect, LineEvent } from "../../../protocol/serial-line/events.ts";
import { newLineSource, readLine } from "../../../protocol/serial-line/reader.ts";
import { startSession } from "../../../recorder/serial/session.ts";
import { arbitraryDeviceLine } from "../../protocol/serial-line/arbitrary-lines.ts";
import { FakePort } from "./fake-port.ts";
import { ManualClock, settle } from "./manual-clock.ts";

/** Bytes as a port hands them over, through cap and line parser, to what the reader makes of them. */
async function eventsOf(dialect: Dialect, chunks: readonly Uint8Array[]): Promise<readonly LineEvent[]> {
  const port = new FakePort();
  const opened = readLine(newLineSource(dialect), { kind: "opened" });
  let state = opened.state;
  const events = [...opened.events];
  const session = startSession(port, new ManualClock(), () => 0.0125, {
    line(text, arrived_at_us) {
      const step = readLine(state, { kind: "line", text, arrived_at_us });
      state = step.state;
      events.push(...step.events);
    },
    text() {},
    flood() {},
    silence() {},
    nothing() {},
    over() {},
  });
  for (const chunk of chunks) port.say(Buffer.from(chunk));
  await settle();
  session.end();
  return events;
}

function cut(bytes: Uint8Array, lengths: readonly number[]): Uint8Array[] {
  const chunks: Uint8Array[] = [];
  let from = 0;
  for (const length of lengths) {
    if (from >= bytes.length) break;
    chunks.push(bytes.subarray(from, from + length));
    from += length;
  }
  if (from < bytes.length) chunks.push(bytes.subarray(from));
  return chunks;
}

const joined = (parts: readonly Uint8Array[]) => new Uint8Array(Buffer.concat(parts));
const bytesOf = (text: string) => new Uint8Array(Buffer.from(text, "latin1"));
const tm1Line = arbitraryDeviceLine.map((line) => bytesOf(`${encodeDeviceLine(line)}\n`));
const bareLine = fc.integer({ min: -9_000_000, max: 9_000_000 }).map((counts) => bytesOf(`${counts}\r\n`));
const noise = fc.uint8Array({ maxLength: 200 });
const lineEnd = fc.constantFrom(bytesOf("\n"), bytesOf("\r\n"), bytesOf(`${"y".repeat(130)}\n`));
const lengths = fc.array(fc.integer({ min: 1, max: 90 }), { maxLength: 200 });

describe("a stream of bytes", () => {
  it.each([
    ["tm1", tm1Line],
    ["bare", bareLine],
  ] as const)("of %s gives the same events however it is cut", async (dialect, good) => {
    const stream = fc
      .array(
        fc.oneof({ weight: 6, arbitrary: good }, { weight: 1, arbitrary: noise }, { weight: 1, arbitrary: lineEnd }),
      )
      .map(joined);
    await fc.assert(
      fc.asyncProperty(stream, lengths, async (bytes, sizes) => {
        expect(await eventsOf(dialect, cut(bytes, sizes))).toEqual(await eventsOf(dialect, [bytes]));
      }),
      { numRuns: 200 },
    );
  });

  it("of one byte at a time, too", async () => {
    const text = "cut off\nR,1,14343,84123*9DC1\r\n\nR,2,26843,-84123,c*91AF\nR,3,39343,841";
    const events = await eventsOf(
      "tm1",
      [...bytesOf(text)].map((byte) => Uint8Array.of(byte)),
    );
    expect(events).toMatchObject([{ kind: "epoch" }, { counts: 84_123 }, { counts: -84_123 }]);
  });

  it.each(["tm1", "bare"] as const)("of garbage never throws (%s)", async (dialect) => {
    await fc.assert(
      fc.asyncProperty(fc.array(noise, { maxLength: 20 }), async (chunks) => {
        await eventsOf(dialect, chunks);
      }),
      { numRuns: 200 },
    );
  });

  it("finds a good line behind any garbage that has ended", async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(noise, { maxLength: 5 }), async (chunks) => {
        const events = await eventsOf("tm1", [...chunks, bytesOf("\nR,1,14343,84123*9DC1\n")]);
        expect(events.at(-1)).toMatchObject({ kind: "reading", counts: 84_123 });
      }),
      { numRuns: 200 },
    );
  });

  it("drops half a number at the end of a bare stream", async () => {
    expect(await eventsOf("bare", [bytesOf("1\n84123\n84")])).toMatchObject([{ kind: "epoch" }, { counts: 84_123 }]);
  });
});
