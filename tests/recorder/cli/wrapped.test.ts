import fc from "fast-check";
import { expect, it } from "vitest";
import { runCli } from "../../../recorder/cli/cli.ts";
import { sentencesAt, wrapped } from "../../../recorder/cli/dialog/wrapped.ts";
import { fakeTerminal } from "./fake-terminal.ts";

it("breaks between words, keeps what a line begins with, and a number with its unit", () => {
  expect(wrapped("Hang the load of 40 kg and wait.", 20)).toBe("Hang the load of\n40 kg and wait.");
  expect(wrapped("- one two three four five", 16)).toBe("- one two three\n  four five");
  expect(wrapped("  gravity here   9.81 in this place", 28)).toBe(
    "  gravity here   9.81 in\n                 this place",
  );
  expect(wrapped("\na\n\n  b c", 80)).toBe("\na\n\n  b c");
});

it("says every word, and no line of short words is too long", () => {
  const word = fc
    .stringMatching(/^[a-z]{2,12}$/)
    .filter((text) => !["kg", "kgf", "lb", "lbf", "kn", "min"].includes(text));
  fc.assert(
    fc.property(fc.array(word, { minLength: 1 }), fc.integer({ min: 30, max: 100 }), (words, columns) => {
      const lines = wrapped(words.join(" "), columns).split("\n");
      expect(lines.join(" ")).toBe(words.join(" "));
      expect(Math.max(...lines.map(({ length }) => length))).toBeLessThan(columns);
    }),
  );
});

it("breaks sentences for a terminal, and neither columns nor what a file gets", () => {
  const text = "It was due a while ago, so check it.\nin force  2026-10-01 08:00   812.346";
  expect(sentencesAt(text, null)).toBe(text);
  expect(sentencesAt(text, 20)).toBe("It was due a while\nago, so check it.\nin force  2026-10-01 08:00   812.346");
});

it("takes a terminal that does not know its breadth, a serial console, for one of 80 columns", async () => {
  const terminal = fakeTerminal(0);
  await runCli(["xyzzy"], terminal);
  expect(terminal.complained).toEqual(["there is no command xyzzy: `tidemark --help` lists them"]);
});
