import { describe, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { curveCells, rowOfWords } from "../../../recorder/drawing/character-plot.ts";
import { setInCharacters } from "../../../recorder/drawing/in-characters.ts";
import { trendInCharacters } from "../../../recorder/drawing/trend-in-characters.ts";
import { drawnSet, SET_NAMES } from "./drawn-sets.ts";
import { TRENDS } from "./drawn-trends.ts";

const HOUSE = { unit: "N", time_zone: "Europe/Lisbon" } as const;
const CHARACTERS = ["braille", "ascii"] as const;

const linesOf = async (name: string, columns: number, characters: "braille" | "ascii"): Promise<string[]> => {
  const { message, curve, floor } = await drawnSet(name);
  return setInCharacters(message, curve, { ...HOUSE, floor, columns, characters }).split("\n");
};
const panelOf = (lines: readonly string[]): string[] => lines.filter((line) => /^[ \d-]{8}[│|](?!.*__)/.test(line));

describe.each(SET_NAMES)("%s", (name) => {
  test.each(CHARACTERS)("fits, in %s", async (characters) => {
    for (const columns of [40, 79, 80, 81, 120]) {
      const lines = await linesOf(name, columns, characters);
      // The last column stays free: some terminals break the line there.
      for (const line of lines) expect(line.length, line).toBeLessThan(columns);
      for (const line of lines) expect(line).toBe(line.trimEnd());
    }
  });

  test("is plain ASCII where that is asked for", async () => {
    expect((await linesOf(name, 80, "ascii")).join("\n")).toMatch(/^[\n -~]+$/);
  });

  test("has the same picture in both", async () => {
    const passes = (lines: readonly string[]): number => lines.join("").replaceAll(/[^*\u2801-\u28ff]/g, "").length;
    const braille = passes(panelOf(await linesOf(name, 80, "braille")));
    const ascii = passes(panelOf(await linesOf(name, 80, "ascii")));
    expect(ascii / braille).toBeGreaterThan(0.8);
    expect(ascii / braille).toBeLessThan(1.25);
  });
});

test("floor and best are in their rows, the stop in its column, efforts over their peaks", async () => {
  const { message } = await drawnSet("rest-pause");
  const lines = await linesOf("rest-pause", 80, "ascii");
  const panel = panelOf(lines);
  const best = panel.findIndex((line) => line.startsWith(String(Math.round(message.best_force_N!)).padStart(8)));
  const floor = panel.findIndex((line) => line.startsWith(String(Math.round(message.floor_force_N!)).padStart(8)));
  expect(panel[best]).toContain("....");
  expect(panel[floor]).toContain("----");
  expect(floor).toBeGreaterThan(best);
  expect(panel.at(-1)).toMatch(/^ {7}0\|/);
  expect(lines.join("\n")).toContain(`floor ${message.floor_force_N!.toFixed(1)} N`);
  const numbers = lines.find((line) => /^ +1 +2 /.test(line))!;
  expect(numbers.trim().split(/ +/)).toEqual(["1", "2", "3", "4", "5", "6", "7"]);
  const top = panel.find((line) => line.includes("*"))!;
  expect(top[numbers.indexOf("2")]).toBe("*");
  // Two fixed points of the time axis are enough to find the stop on it.
  const times = lines.at(-2)!;
  const per_s = (times.indexOf("40") - times.indexOf("10")) / 30;
  const stop = panel[1]!.lastIndexOf("|");
  expect(Math.abs(times.indexOf("10") + (message.duration_s - 10) * per_s - stop)).toBeLessThanOrEqual(1);
});

test("a gap stays empty", async () => {
  const panel = panelOf(await linesOf("hold-sensor-fault", 80, "ascii"));
  const row = panel.find((line) => /\*+ +\*+/.test(line.slice(9)))!;
  expect(row).toMatch(/\* +\*/);
});

test("a rise between two readings is a whole line", async () => {
  const { message } = await drawnSet("hold");
  const elapsed_s = Array.from({ length: 201 }, (_, index) => index / 10 - 1);
  const force_N = elapsed_s.map((s) => (s < 5 ? 0 : 660));
  const drawn = setInCharacters(message, { elapsed_s, force_N }, { ...HOUSE, columns: 100, characters: "ascii" });
  const panel = panelOf(drawn.split("\n"));
  const top = panel.findIndex((line) => line.includes("*"));
  const rising = panel.slice(top).map((line) => [line.indexOf("*"), line.lastIndexOf("*")] as const);
  const column = rising[0]![0];
  expect(column).toBeGreaterThan(0);
  for (const [first, last] of rising.slice(0, -1))
    expect(first <= column && last >= column - 1 && first >= 0).toBe(true);
});

test("many efforts: the last has its number, and none lies on another", async () => {
  const { message } = await drawnSet("continuous-thirty");
  const numbers = (await linesOf("continuous-thirty", 60, "ascii")).find((line) => /^ {9,}\d+( +\d+)+$/.test(line))!;
  const said = numbers.trim().split(/ +/).map(Number);
  expect(said.at(-1)).toBe(message.efforts.length);
  expect(said).toEqual([...said].sort((one, other) => one - other));
  expect(said.length).toBeLessThan(message.efforts.length);
});

test("a set without floor, best and efforts is drawn too", async () => {
  const { message, curve } = await drawnSet("hold");
  const bare: SetMessage = {
    ...message,
    best_force_N: null,
    floor_force_N: null,
    final_force_N: null,
    efforts: [],
    simulated: true,
  };
  const lines = setInCharacters(bare, { elapsed_s: [], force_N: [] }, { ...HOUSE, columns: 80, characters: "ascii" });
  expect(lines).toContain("simulated");
  expect(setInCharacters(bare, curve, { ...HOUSE, columns: 80, characters: "braille" })).not.toMatch(/NaN|null|╌|· /);
});

test("Braille dots are numbered as Unicode numbers them", () => {
  // U+2800 and on: dots 1-2-3-7 down the left, 4-5-6-8 down the right, one bit each in that order of numbers (The Unicode
  // Standard, chart U2800; from memory).
  const cell = (left: [number, number] | null, right: [number, number] | null): string =>
    curveCells(
      [left, right].map((rows) => rows && { top: rows[0], bottom: rows[1] }),
      1,
      1,
      "braille",
    )[0]![0]!;
  expect(cell([0, 0], null)).toBe("⠁");
  expect(cell([3, 3], null)).toBe("⡀");
  expect(cell(null, [0, 3])).toBe("⢸");
  expect(cell([0, 3], [0, 3])).toBe("⣿");
  expect(cell(null, null)).toBe(" ");
});

test("words in a row keep a blank between them; who comes first has the place", () => {
  expect(
    rowOfWords(
      [
        { column: 3, text: "12" },
        { column: 5, text: "13" },
        { column: 6, text: "14" },
      ],
      10,
    ),
  ).toBe("   12 14");
  expect(rowOfWords([{ column: 9, text: "long" }], 6)).toBe("  long");
  expect(rowOfWords([{ column: 0, text: "longer" }], 4)).toBe("");
});

describe("a trend", () => {
  const drawn = (name: string, characters: "braille" | "ascii" = "ascii", columns = 80) =>
    trendInCharacters(TRENDS[name]!.trends[0]!, { ...HOUSE, columns, characters });

  test.each(CHARACTERS)("fits, in %s", (characters) => {
    for (const name of ["many", "few", "one", "long"]) {
      for (const columns of [40, 80, 120]) {
        for (const line of drawn(name, characters, columns)!.split("\n"))
          expect(line.length, line).toBeLessThan(columns);
      }
    }
  });

  test("has a sign for every day, pain and an unconfirmed best among them, and a line for another calibration", () => {
    const text = drawn("many")!;
    const panel = panelOf(text.split("\n")).map((line) => line.slice(9));
    expect(
      panel
        .join("")
        .replaceAll(/[^o?!]/g, "")
        .split("")
        .sort()
        .join(""),
    ).toBe(`!?${"o".repeat(14)}`);
    const column = panel[0]!.indexOf("|");
    expect(panel.every((line) => line[column] === "|")).toBe(true);
    expect(text).toMatch(/^to loss +40 % +35 % +30 %$/m);
    expect(text).toMatch(/2026-09-14 +2026-09-28 +2026-10-12 +2026-10-26/);
  });

  test("a day is in the row of its best", () => {
    const panel = panelOf(drawn("few")!.split("\n"));
    const rows = ["550", "500", "450"].map((tick) => panel.findIndex((line) => line.trimStart().startsWith(tick)));
    const per_row = 50 / (rows[1]! - rows[0]!);
    const found = panel.flatMap((line, row) => (/\|.*o/.test(line) ? [550 - (row - rows[0]!) * per_row] : []));
    expect(found.length).toBe(3);
    for (const [index, best_N] of [531, 512, 498].entries())
      expect(Math.abs(found[index]! - best_N)).toBeLessThan(1.5 * per_row);
  });

  test("none without a best", () => expect(drawn("unknown")).toBeNull());
});
