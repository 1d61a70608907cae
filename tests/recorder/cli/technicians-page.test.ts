/** The technician's page says commands that exist, with flags they take, and what the trials of the zero measured. */
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { COMMANDS } from "../../../recorder/cli/commands.ts";
import { TRIALS, type Trial } from "../../calibration/zero/zero-trials.ts";

const page = readFileSync(new URL("../../../hardware-notes/recalibration.md", import.meta.url), "utf8");

/** Whole command lines, in fences and in backticks. */
const lines = [...page.matchAll(/(?:^|`)tidemark ([a-z][^`\n#]*)/gm)].map(([, words]) => words!.trim().split(/\s+/));

describe("the commands of the technician's page", () => {
  it("are there, and what a visit needs is among them", () => {
    const names = new Set(lines.map(([name]) => name));
    for (const name of names) expect(Object.keys(COMMANDS)).toContain(name);
    for (const name of ["self-test", "check-loads", "calibrate", "calibrations", "zero", "inspected"]) {
      expect(names).toContain(name);
    }
  });

  it.each(lines.map((words) => [words.join(" "), words] as const))("tidemark %s", async (_, [name = "", ...words]) => {
    const { command } = await COMMANDS[name]!.load();
    for (const word of words.filter((word) => word.startsWith("--"))) {
      expect(Object.keys(command.flags)).toContain(word.slice(2).split("=")[0]);
    }
    expect(words[0]).toBe(command.operands[0] === "STATION" ? "leg-press" : words[0]);
  });
});

const time = (s: number): string => (s === 0 ? "at once" : s < 3600 ? `${s / 60} min` : `${s / 3600} h`);
const row = ({ what, force_N, over_s, noise_N, absorbed_N, bound_N, alarms }: Trial): string => {
  const noisy = noise_N > 0.1 ? `, noise ${noise_N} N` : "";
  const cells = [`${what}${noisy}`, `${force_N} N`, time(over_s), `${absorbed_N} N`, `${+bound_N.toFixed(1)} N`];
  return `| ${[...cells, alarms.map((code) => `\`${code}\``).join(", ") || "-"].join(" | ")} |`;
};

it("the table of what the zero takes is that of its trials", () => {
  // Columns are padded there, for a page that is read as text.
  const squeezed = page.split("\n").map((line) => line.replaceAll(/ +\|/g, " |"));
  expect(squeezed.filter((line) => / N \| (at once|[\d.]+ (min|h)) \| /.test(line))).toEqual(TRIALS.map(row));
});
