import { ReadlineParser } from "@serialport/parser-readline";
import { describe, expect, it } from "vitest";
import { LINE_CAP_BYTES } from "../../../protocol/serial-line/lines.ts";
import { LineCap } from "../../../recorder/serial/line-cap.ts";

function capped(...chunks: string[]): string {
  const cap = new LineCap();
  let passed = "";
  cap.on("data", (chunk: Buffer) => (passed += chunk.toString("latin1")));
  for (const chunk of chunks) cap.write(Buffer.from(chunk, "latin1"));
  cap.resume();
  // What a transform holds back is read out here: the test has no turn of the event loop between.
  for (let rest = cap.read() as Buffer | null; rest !== null; rest = cap.read() as Buffer | null) {
    passed += rest.toString("latin1");
  }
  return passed;
}

const x = (count: number) => "x".repeat(count);

describe("the cap of a line", () => {
  it.each([
    ["nothing of a line that fits", [`${x(120)}\nR\n`], `${x(120)}\nR\n`],
    ["nothing of one byte over", [`${x(121)}\nR\n`], `${x(121)}\nR\n`],
    ["what is beyond one byte over", [`a\n${x(122)}\nR\n`], `a\n${x(121)}\nR\n`],
    ["it over chunks", [x(100), x(100), `${x(100)}\nR`, "\n"], `${x(121)}\nR\n`],
    ["it chunk by chunk at the very cap", [x(121), x(1), "\nR\n"], `${x(121)}\nR\n`],
    ["it of two lines in one chunk", [`${x(200)}\n${x(200)}\nR\n`], `${x(121)}\n${x(121)}\nR\n`],
    ["nothing of empty lines", ["\n\n\r\n", "\n"], "\n\n\r\n\n"],
    ["all of a line without end", [x(121), x(1000), x(1000)], x(121)],
  ])("cuts %s", (_, chunks, passed) => {
    expect(capped(...chunks)).toBe(passed);
  });

  it("lets the parser hold no more than a line, through 64 MB without an LF, and finds the next one", async () => {
    const cap = new LineCap();
    const parser = new ReadlineParser({ delimiter: "\n", encoding: "latin1", includeDelimiter: true });
    const lines: string[] = [];
    parser.on("data", (line: string) => lines.push(line));
    cap.pipe(parser);
    const flood = Buffer.alloc(65_536, 0x55);
    let held = 0;
    for (let chunk = 0; chunk < 1024; chunk++) {
      if (!cap.write(flood)) await new Promise((resolve) => cap.once("drain", resolve));
      held = Math.max(held, (parser as unknown as { buffer: Buffer }).buffer.length + cap.readableLength);
    }
    expect(held).toBeLessThanOrEqual(LINE_CAP_BYTES + 1);
    cap.write(Buffer.from("\nR,1,14343,84123*9DC1\n"));
    await new Promise((resolve) => setImmediate(resolve));
    expect(lines).toEqual([`${"U".repeat(121)}\n`, "R,1,14343,84123*9DC1\n"]);
  });
});

describe("the line parser of serialport, as it is used", () => {
  const parsed = (options: { includeDelimiter: boolean }) => {
    const parser = new ReadlineParser({ delimiter: "\n", encoding: "latin1", ...options });
    const lines: string[] = [];
    parser.on("data", (line: string) => lines.push(line));
    parser.end(Buffer.from("\n\r\nabc\r\n\n\xe9\nhalf", "latin1"));
    return new Promise<string[]>((resolve) => parser.once("end", () => resolve(lines)));
  };

  it("keeps empty lines, and shows which line has no end, only where the LF is left on", async () => {
    expect(await parsed({ includeDelimiter: true })).toEqual(["\n", "\r\n", "abc\r\n", "\n", "\xe9\n", "half"]);
    expect(await parsed({ includeDelimiter: false })).toEqual(["\r", "abc\r", "\xe9", "half"]);
  });
});
