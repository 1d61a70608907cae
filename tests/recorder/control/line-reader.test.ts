import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { createLineReader, LINE_BYTES } from "../../../recorder/control/line-reader.ts";

const read = (chunks: readonly Uint8Array[], cap?: number): string[] => {
  const reader = createLineReader(cap);
  return chunks.flatMap((chunk) => reader.take(chunk)).map((line) => line.toString());
};
const bytes = (text: string): Buffer => Buffer.from(text);

describe("lines", () => {
  test.each<[string, string[]]>([
    ["a\nb\n", ["a", "b"]],
    ["a\r\nb\r\n", ["a", "b"]],
    ["\n\r\n\na\n", ["a"]],
    ["a", []],
    ["a\rb\n", ["a\rb"]],
    ["a\r\r\n", ["a\r"]],
    ["", []],
  ])("%j", (text, lines) => {
    expect(read([bytes(text)])).toEqual(lines);
  });

  test("at the cap, and one byte over it", () => {
    expect(read([bytes("12345\n")], 5)).toEqual(["12345"]);
    expect(read([bytes("12345\r\n")], 5)).toEqual(["12345"]);
    expect(read([bytes("123456\n")], 5)).toEqual(["too-long"]);
    expect(read([bytes("12345\r"), bytes("6\n")], 5)).toEqual(["too-long"]);
    expect(LINE_BYTES).toBe(65_536);
  });

  test("a line that never ends is given up at the cap, and nothing after it is read", () => {
    expect(read([bytes("1234567"), bytes("\na\n")], 5)).toEqual(["too-long"]);
  });

  test("a line outlives the chunk it came in", () => {
    const chunk = bytes("abc\n");
    const [line] = createLineReader().take(chunk);
    chunk.fill(0);
    expect(line?.toString()).toBe("abc");
  });

  test("any chunking gives the same lines", () => {
    const stream = fc.array(fc.constantFrom(0x0a, 0x0d, 0x61, 0x62, 0xff), { maxLength: 60 });
    fc.assert(
      fc.property(stream, fc.array(fc.nat(8), { maxLength: 60 }), (values, cuts) => {
        const whole = Uint8Array.from(values);
        const chunks: Uint8Array[] = [];
        let from = 0;
        for (const cut of cuts) {
          chunks.push(whole.subarray(from, from + cut));
          from = Math.min(whole.length, from + cut);
        }
        chunks.push(whole.subarray(from));
        expect(read(chunks, 7)).toEqual(read([whole], 7));
      }),
      { numRuns: 2000 },
    );
  });
});
