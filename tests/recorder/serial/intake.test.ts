/** What a line in flood is given, and what it is not: through a whole session, against a clock the test turns. */
import { describe, expect, it } from "vitest";
import { MOST_BYTES_PER_S } from "../../../recorder/serial/intake.ts";
import { type Link, openLink } from "../../../recorder/serial/link.ts";
import { FakePort } from "./fake-port.ts";
import { ManualClock, settle } from "./manual-clock.ts";

/** 115200 baud, 8N1: ten bits a byte. */
const WIRE_BYTES_PER_S = 11_520;
/** Where nothing bounds what is taken. */
const ENDLESS_BYTES = 20_000_000;
const LINE = "R,1,14343,84123*9DC1\n";

interface Flooded {
  readonly port: FakePort;
  readonly clock: ManualClock;
  readonly link: Link;
  readonly told: string[];
  lines: number;
}

async function opened(): Promise<Flooded> {
  const port = new FakePort();
  const clock = new ManualClock();
  const told: string[] = [];
  const link = openLink({
    path: "/dev/board",
    openPort: async () => port,
    clock,
    jitter: () => 0,
    handlers: {
      onOpened: () => {},
      onLine: () => {
        flooded.lines += 1;
      },
      onClosed: () => told.push("closed"),
      onTrouble: (sentence) => told.push(sentence ?? "null"),
      onSilence: () => told.push("silence"),
    },
  });
  const flooded: Flooded = { port, clock, link, told, lines: 0 };
  await settle();
  return flooded;
}

/** Feeds `chunk` whenever the port is read, as a driver whose buffer never empties; what waits in it is bounded there. */
async function flood({ port, clock }: Flooded, chunk: string, lasts_ms: number): Promise<number> {
  let fed_bytes = 0;
  for (let ms = 0; ms < lasts_ms; ms += 5) {
    while (port.readableLength < 4096 && port.readableFlowing === true && fed_bytes < ENDLESS_BYTES) {
      port.say(chunk);
      fed_bytes += chunk.length;
      if (port.readableLength === 0) await settle();
    }
    await clock.advance(5);
  }
  return fed_bytes;
}

describe("a line in flood", () => {
  it.each([
    ["lines", LINE.repeat(190)],
    ["bytes without an end", "x".repeat(4096)],
    ["nothing but line ends", "\n".repeat(4096)],
  ])("of %s is given its share and no more, is told, and is not taken for silence", async (_, chunk) => {
    const flooded = await opened();
    const fed_bytes = await flood(flooded, chunk, 5000);
    // A burst at first, and what is under way.
    expect(fed_bytes).toBeLessThan(5 * MOST_BYTES_PER_S + 65_536 + 100_000);
    const cost_bytes = fed_bytes + 16 * (chunk.split("\n").length - 1) * (fed_bytes / chunk.length);
    expect(cost_bytes).toBeGreaterThan(4.5 * MOST_BYTES_PER_S);
    expect(flooded.told).toEqual([expect.stringMatching(/^\/dev\/board sends more than 576 kB\/s/)]);
    await flooded.link.close();
    expect(flooded.clock.pending).toBe(0);
  });

  it("whose share is used up for seconds is not taken for silent while its bytes wait", async () => {
    const flooded = await opened();
    flooded.port.say("\n".repeat(100_000));
    await flooded.clock.advance(2500);
    expect(flooded.told).toEqual([]);
    flooded.port.say(LINE);
    await flooded.clock.advance(1000);
    expect(flooded.lines).toBe(100_001);
  });

  it("that ends is a line as any other again", async () => {
    const flooded = await opened();
    await flood(flooded, LINE.repeat(190), 3000);
    for (let second = 0; second < 40; second++) {
      flooded.port.say(LINE);
      await flooded.clock.advance(50);
    }
    expect(flooded.told).toEqual([expect.stringMatching(/sends more/), "null"]);
    const before = flooded.lines;
    flooded.port.say(LINE);
    await settle();
    expect(flooded.lines).toBe(before + 1);
  });
});

describe("a line as fast as its wire", () => {
  it("for a minute, and ten times as fast, is handed over at once and without a word", async () => {
    for (const times of [1, 10]) {
      const flooded = await opened();
      const per_tick = Math.round((times * WIRE_BYTES_PER_S * 0.016) / LINE.length);
      let said = 0;
      for (let ms = 0; ms < 60_000; ms += 16) {
        flooded.port.say(LINE.repeat(per_tick));
        said += per_tick;
        await flooded.clock.advance(16);
        expect(flooded.lines).toBe(said);
      }
      expect(flooded.told).toEqual([]);
    }
  });

  it("that waited in a driver while the program stood still is handed over at once", async () => {
    const flooded = await opened();
    // n_tty.c of Linux keeps 4096 bytes, the USB and flip buffers before it some tens of thousands.
    flooded.port.say(LINE.repeat(1500));
    await settle();
    expect(flooded.lines).toBe(1500);
  });
});
