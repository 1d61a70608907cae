import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { connect } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Worker } from "node:worker_threads";
import { afterEach, describe, expect, it } from "vitest";
import { openHardwarePort } from "../../../recorder/serial/hardware-port.ts";
import { type Link, openLink } from "../../../recorder/serial/link.ts";
import { type FakeOpener, fakeOpener } from "./fake-port.ts";
import { ManualClock, settle } from "./manual-clock.ts";

const PATH = "/dev/serial/by-id/usb-board";

interface Bench {
  readonly opener: FakeOpener;
  readonly clock: ManualClock;
  readonly link: Link;
  /** What the link told, in order. */
  readonly told: readonly string[];
}

let open: Link[] = [];
afterEach(() => {
  for (const link of open) void link.close();
  open = [];
});

function bench(prepare: (opener: FakeOpener) => void = () => {}): Bench {
  const opener = fakeOpener();
  prepare(opener);
  const clock = new ManualClock();
  const told: string[] = [];
  const link = openLink({
    path: PATH,
    openPort: opener.open,
    clock,
    jitter: () => 0,
    handlers: {
      onOpened: () => told.push("opened"),
      onLine: (text, arrived_at_us) => told.push(`${arrived_at_us} ${text}`),
      onClosed: () => told.push("closed"),
      onTrouble: (sentence) => told.push(`trouble: ${sentence}`),
      onSilence: () => told.push("silence"),
    },
  });
  link.expectPeriod(0.0125);
  open.push(link);
  return { opener, clock, link, told };
}

describe("a link", () => {
  it("opens its port, hands over lines with their arrival, and writes", async () => {
    const { opener, clock, link, told } = bench();
    expect(link.write("too early\n")).toBe(false);
    await clock.advance(10);
    opener.ports[0]!.say("a\r\n\nb\nc");
    await settle();
    expect(link.write("\nI,1*2A59\n")).toBe(true);
    await settle();
    expect(told).toEqual(["opened", "10000 a\r", "10000 ", "10000 b"]);
    expect(opener.ports[0]!.heard).toBe("\nI,1*2A59\n");
    expect(opener.paths).toEqual([PATH]);
  });

  it("opens again after its port went away, a new start for lines too", async () => {
    const { opener, clock, told } = bench();
    await clock.advance(10);
    opener.ports[0]!.say("whole\nhalf a li");
    await settle();
    opener.ports[0]!.unplug("EIO: i/o error, read");
    await clock.advance(499);
    expect(opener.ports).toHaveLength(1);
    expect(opener.ports[0]!.destroyed).toBe(true);
    await clock.advance(1);
    opener.ports[1]!.say("ne\nnext\n");
    await settle();
    expect(told).toEqual([
      "opened",
      "10000 whole",
      `trouble: ${PATH} went away (EIO: i/o error, read): check the plug; retrying.`,
      "closed",
      "trouble: null",
      "opened",
      "510000 ne",
      "510000 next",
    ]);
  });

  it("tries for ever, and says what is wrong only when that changes", async () => {
    const missing = Array.from({ length: 100 }, () => new Error("not there"));
    const { opener, clock, told } = bench((scripted) =>
      scripted.next(...missing, new Error("busy"), new Error("busy")),
    );
    await clock.advance(3600 * 1000);
    expect(told.slice(0, 4)).toEqual(["trouble: not there", "trouble: busy", "trouble: null", "opened"]);
    expect(opener.paths.length).toBeGreaterThan(102);
  });

  it("tries a port that opens and says nothing ever more slowly, too, with one word about it", async () => {
    const { opener, clock, told } = bench();
    await clock.advance(600_000);
    // 10 s of waiting and in the end 30 s of patience each.
    expect(opener.paths.length).toBeGreaterThan(14);
    expect(opener.paths.length).toBeLessThan(20);
    expect(told.filter((entry) => entry.startsWith("trouble"))).toEqual([expect.stringMatching(/nothing has come/)]);
  });

  it("is patient again at once after a port that had lines", async () => {
    const { opener, clock } = bench((scripted) => scripted.next(...Array.from({ length: 6 }, () => new Error("no"))));
    await clock.advance(500 + 1000 + 2000 + 4000 + 8000 + 16_000);
    opener.ports[0]!.say("\n");
    await settle();
    opener.ports[0]!.unplug("gone");
    await clock.advance(500);
    expect(opener.ports).toHaveLength(2);
  });

  it("takes an end of the stream, and an error of the port, for the end", async () => {
    const { opener, clock, told } = bench();
    await settle();
    opener.ports[0]!.push(null);
    await clock.advance(500);
    opener.ports[1]!.emit("error", new Error("write failed"));
    opener.ports[1]!.emit("error", new Error("and again"));
    await clock.advance(1000);
    expect(told.filter((entry) => entry === "opened" || entry === "closed")).toEqual([
      "opened",
      "closed",
      "opened",
      "closed",
      "opened",
    ]);
  });
});

describe("a port that says nothing", () => {
  it("is silence after a second, and is opened again", async () => {
    const { opener, clock, told } = bench();
    await settle();
    opener.ports[0]!.say("a\n");
    await clock.advance(999);
    expect(told).toEqual(["opened", "0 a"]);
    await clock.advance(251);
    expect(told.slice(2)).toEqual(["silence", expect.stringMatching(/fell silent for 1\.\d s/), "closed"]);
    await clock.advance(500);
    expect(opener.ports).toHaveLength(2);
  });

  it("is waited for longer where readings are slow: silence first, then the end", async () => {
    const { opener, clock, link, told } = bench();
    link.expectPeriod(0.4);
    await settle();
    opener.ports[0]!.say("a\n");
    await clock.advance(2250);
    expect(told.slice(2)).toEqual(["silence"]);
    opener.ports[0]!.say("b\n");
    await clock.advance(4000);
    expect(told.slice(3)).toEqual(["2250000 b", "silence"]);
    await clock.advance(250);
    expect(told.at(-1)).toBe("closed");
  });

  it("from the start gets a hint after 5 s and another open after 10: a board that restarts at an open must get up", async () => {
    const { clock, told } = bench();
    await clock.advance(4999);
    expect(told).toEqual(["opened"]);
    await clock.advance(251);
    expect(told.slice(1)).toEqual([expect.stringMatching(/open but nothing has come in 5 s/)]);
    await clock.advance(5000);
    expect(told.slice(2)).toEqual(["closed"]);
  });

  it("is not silence while the event loop stands still, however long, at any moment", async () => {
    for (const stall_ms of [700, 1500, 60_000]) {
      const { opener, clock, told } = bench();
      await settle();
      for (let index = 0; index < 200; index++) {
        opener.ports[0]!.say("a\n");
        await clock.advance(12.5);
        if (index % 40 === 20) await clock.stall(stall_ms);
      }
      expect(told.filter((entry) => !entry.endsWith(" a"))).toEqual(["opened"]);
    }
  });

  it("is not silence where bytes came in a stall that began when it was nearly quiet for long enough", async () => {
    const { opener, clock, told } = bench();
    await settle();
    opener.ports[0]!.say("a\n");
    await clock.advance(950);
    // Late timers run before the loop polls again: only then are the bytes found.
    const turned = clock.stall(700);
    opener.ports[0]!.say("b\n");
    await turned;
    await clock.advance(500);
    expect(told.map((entry) => entry.replace(/^\d+ /, ""))).toEqual(["opened", "a", "b"]);
  });

  it("is silence even where every turn of the loop is late", async () => {
    const { opener, clock, told } = bench();
    await settle();
    opener.ports[0]!.say("a\n");
    await settle();
    for (let turn = 0; turn < 12; turn++) await clock.stall(400);
    expect(told).toContain("silence");
  });
});

describe("bytes that are not text", () => {
  it("bring the question after the baud rate, until they are", async () => {
    const { opener, clock, told } = bench();
    await clock.advance(10);
    opener.ports[0]!.say(Buffer.alloc(600, 0xf8));
    opener.ports[0]!.say("\n");
    await settle();
    expect(told[1]).toMatch(/wrong baud rate\?/);
    expect(told).not.toContain("trouble: null");
    opener.ports[0]!.say("R,1,14343,84123*9DC1\n".repeat(30));
    await settle();
    expect(told).toContain("trouble: null");
  });
});

describe("writing", () => {
  it("to a port that takes nothing is refused before it fills the memory", async () => {
    const { opener, link } = bench();
    await settle();
    opener.ports[0]!.stopTaking();
    let taken = 0;
    while (taken < 10_000 && link.write("L,1,1,on*0000\n")) taken += 14;
    expect(taken).toBeLessThanOrEqual(1024);
    expect(taken).toBeGreaterThan(900);
  });
});

describe("closing", () => {
  it("ends the port and all timers, and tells so", async () => {
    const { opener, clock, link, told } = bench();
    await settle();
    await link.close();
    expect(opener.ports[0]!.destroyed).toBe(true);
    expect(told).toEqual(["opened", "closed"]);
    expect(clock.pending).toBe(0);
    expect(link.write("late\n")).toBe(false);
  });

  it("ends the wait for another try", async () => {
    const { opener, clock, link } = bench((scripted) => scripted.next(new Error("no")));
    await settle();
    await link.close();
    await clock.advance(60_000);
    expect(opener.paths).toHaveLength(1);
  });

  it("in the middle of an open resolves within a second, and lets go of the port when it comes after all", async () => {
    const { opener, clock, link, told } = bench((scripted) => scripted.next("never"));
    await settle();
    let closed = false;
    void link.close().then(() => {
      closed = true;
    });
    await clock.advance(999);
    expect(closed).toBe(true);
    opener.release();
    await settle();
    expect(opener.ports[0]!.destroyed).toBe(true);
    expect(told).toEqual([]);
  });

  it("waits for an open that ends soon, so that the port is free when it resolves", async () => {
    const { opener, link } = bench((scripted) => scripted.next("never"));
    await settle();
    const closed = link.close();
    opener.release();
    await closed;
    expect(opener.ports[0]!.destroyed).toBe(true);
  });
});

describe("on the real event loop", () => {
  /** Says a line every 12.5 ms from a thread of its own, so that bytes wait while this one stands still. */
  const TALKER = `
    const { createServer } = require("node:net");
    const { workerData, parentPort } = require("node:worker_threads");
    let quiet = false;
    const server = createServer((socket) => {
      let count = 0;
      const timer = setInterval(() => quiet || socket.write(count++ + "\\n"), 12.5);
      socket.on("close", () => clearInterval(timer));
      socket.on("error", () => {});
    }).listen(workerData, () => parentPort.postMessage("listening"));
    parentPort.on("message", () => { quiet = true; });
  `;

  it("a stall of 700 ms, or of 1.5 s, while bytes wait is no silence; a board that stops is", async () => {
    const folder = await mkdtemp(join(tmpdir(), "tidemark-link-"));
    const path = join(folder, "board.sock");
    const talker = new Worker(TALKER, { eval: true, workerData: path });
    await new Promise((resolve) => talker.once("message", resolve));
    const told: string[] = [];
    const numbers: number[] = [];
    let heardSilence = (): void => {};
    const silence = new Promise<void>((resolve) => {
      heardSilence = resolve;
    });
    let moreLines = (): void => {};
    const link = openLink({
      path,
      openPort: async (to) => connect(to),
      handlers: {
        onOpened: () => told.push("opened"),
        onLine(text) {
          numbers.push(Number(text));
          moreLines();
        },
        onClosed: () => told.push("closed"),
        onTrouble: (sentence) => told.push(String(sentence)),
        onSilence() {
          told.push("silence");
          heardSilence();
        },
      },
    });
    link.expectPeriod(0.0125);
    const lines = (count: number) =>
      new Promise<void>((resolve) => {
        const until = numbers.length + count;
        moreLines = () => numbers.length >= until && resolve();
      });
    try {
      await lines(20);
      for (const stall_ms of [700, 1500]) {
        const before = numbers.length;
        const until_ms = performance.now() + stall_ms;
        while (performance.now() < until_ms);
        await lines(20);
        expect(numbers.length - before).toBeGreaterThan((stall_ms / 12.5) * 0.5);
      }
      expect(told).toEqual(["opened"]);
      expect(numbers).toEqual(numbers.map((_, index) => index));
      talker.postMessage("quiet");
      await silence;
      expect(told[1]).toBe("silence");
    } finally {
      await link.close();
      await talker.terminate();
      await rm(folder, { recursive: true });
    }
  });
});

describe("a serial port of this machine", () => {
  it("that is missing, or is none, is told so in one sentence", async () => {
    const folder = await mkdtemp(join(tmpdir(), "tidemark-port-"));
    const plain = join(folder, "plain");
    await writeFile(plain, "");
    try {
      await expect(openHardwarePort(join(folder, "missing"))).rejects.toThrow(/missing is not there: /);
      await expect(openHardwarePort(plain)).rejects.toThrow(/plain is not a serial port: /);
    } finally {
      await rm(folder, { recursive: true });
    }
  });
});
