/** Asking at a terminal and in a pipe, the live values told by the test. */
import { PassThrough } from "node:stream";
import { describe, expect, test } from "vitest";
import { dialogAt } from "../../../recorder/cli/dialog/dialog.ts";
import { linesOf } from "../../../recorder/cli/dialog/lines.ts";
import { type Live, sayLive } from "../../../recorder/cli/dialog/live.ts";
import { fakeTerminal } from "./fake-terminal.ts";

const HOUSE = { unit: "N", time_zone: "UTC" } as const;
const AT = { force_N: 392.44, counts: 806_365, still: true, at_ms: 1_000_000 };
const ESC = "\x1b";

function sitting(columns: number | null) {
  const terminal = fakeTerminal(columns);
  const listeners = new Set<(live: Live) => void>();
  const lines = linesOf(terminal.typed, terminal.interrupted());
  const feed = {
    hear(listener: (live: Live) => void) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close() {},
  };
  const tell = (live: Live): void => {
    for (const listener of [...listeners]) listener(live);
  };
  return { terminal, lines, listeners, tell, dialog: dialogAt({ terminal, lines, feed, house: HOUSE }) };
}

test.each<[Partial<Live>, string]>([
  [{}, "392.4 N (806365 counts), still"],
  [{ still: false }, "392.4 N (806365 counts), moving"],
  [{ force_N: null }, "806365 counts, still"],
  [{ counts: null, still: null }, "392.4 N"],
  [{ force_N: null, counts: null, still: null }, "no reading"],
])("a live value: %j", (differs, text) => {
  expect(sayLive({ ...AT, ...differs }, HOUSE)).toBe(text);
});

describe("at a terminal", () => {
  test("the live value is redrawn in the line above what is typed, until Enter", async () => {
    const { terminal, dialog, tell, listeners } = sitting(80);
    const typed = dialog.instruct("Hang it.", "skip");
    tell(AT);
    tell({ ...AT, still: false });
    terminal.typed.write("  Skip \n");
    expect(await typed).toBe("skip");
    expect(listeners.size).toBe(0);
    expect(terminal.said).toEqual([
      "\nHang it.",
      "Press Enter when that is so, or type skip.",
      "  now -\n> ",
      `${ESC}7${ESC}[1A\r${ESC}[2K  now 392.4 N (806365 counts), still${ESC}8`,
      `${ESC}7${ESC}[1A\r${ESC}[2K  now 392.4 N (806365 counts), moving${ESC}8`,
    ]);
  });

  test("while it is read it counts down by the recorder's time, and leaves an empty line", async () => {
    const { terminal, dialog, tell, listeners } = sitting(80);
    let done: (value: number) => void = () => {};
    const work = new Promise<number>((resolve) => {
      done = resolve;
    });
    const read = dialog.reading(23, work);
    for (const at_ms of [1_000_000, 1_000_900, 1_022_500, 1_024_000]) tell({ ...AT, at_ms });
    tell({ ...AT, at_ms: null });
    done(7);
    expect(await read).toBe(7);
    expect(listeners.size).toBe(0);
    const drawn = (left: string): string => `\r${ESC}[2K  reading: 392.4 N (806365 counts), still${left}: hands off`;
    expect(terminal.said).toEqual([
      `\r${ESC}[2K  reading: hands off`,
      ...[", 23 s left", ", 23 s left", ", 1 s left", ", 0 s left", ""].map(drawn),
      `\r${ESC}[2K`,
    ]);
  });

  test("a narrow one is never overrun", async () => {
    const { terminal, dialog, tell } = sitting(24);
    const typed = dialog.instruct("Hang it and wait for it to be still.");
    tell(AT);
    terminal.typed.write("\n");
    await typed;
    // biome-ignore lint/suspicious/noControlCharactersInRegex: what drives a terminal takes no room on it
    const bare = terminal.said.join("\n").replaceAll(/\x1b(\[[0-9;]*[A-Za-z]|[78])|\r/g, "");
    for (const line of bare.split("\n")) expect(line.length).toBeLessThan(24);
  });
});

describe("in a pipe", () => {
  test("everything is a line, and the value is said once", async () => {
    const { terminal, dialog, tell } = sitting(null);
    const typed = dialog.instruct("Hang it.");
    tell(AT);
    tell(AT);
    terminal.typed.write("\nyes\n40 kg\n");
    expect(await typed).toBe("");
    expect(await dialog.yes("So?", null)).toBe(true);
    expect(await dialog.ask("Which load?")).toBe("40 kg");
    expect(await dialog.reading(23, Promise.resolve(1))).toBe(1);
    expect(terminal.said).toEqual([
      "\nHang it.",
      "Press Enter when that is so.",
      "  now 392.4 N (806365 counts), still",
      "So? [y/n]",
      "Which load?",
      "  reading for 23 s: hands off",
    ]);
  });

  test.each([
    [true, ["", true]],
    [false, ["", false]],
    [true, ["N", false]],
    [false, ["YES", true]],
  ] as const)("Enter means %j; %j", async (otherwise, [typed, meant]) => {
    const { terminal, dialog } = sitting(null);
    terminal.typed.write(`${typed}\n`);
    expect(await dialog.yes("So?", otherwise)).toBe(meant);
  });

  test("without a meaning Enter is asked again", async () => {
    const { terminal, dialog } = sitting(null);
    terminal.typed.write("\ny\n");
    expect(await dialog.yes("So?", null)).toBe(true);
    expect(terminal.said).toEqual(["So? [y/n]", "Type yes or no.", "So? [y/n]"]);
  });
});

describe("broken off", () => {
  test("the end of the input is told when a line is missed, and no line comes any more", async () => {
    const typed = new PassThrough();
    const lines = linesOf(typed, new AbortController().signal);
    typed.end("one\ntwo");
    expect([await lines.next(), await lines.next()]).toEqual(["one", "two"]);
    let came = false;
    void lines.next().then(() => {
      came = true;
    });
    expect(await lines.broken).toBe("closed");
    expect(came).toBe(false);
  });

  test("Ctrl-C is told at once, before or after somebody asks", async () => {
    for (const early of [true, false]) {
      const stop = new AbortController();
      if (early) stop.abort();
      const lines = linesOf(new PassThrough(), stop.signal);
      stop.abort();
      expect(await lines.broken).toBe("interrupted");
      lines.close();
    }
  });
});
