/** `tidemark show`: drawn, as a picture, as a table of readings, by the beginning of an id. */
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import Papa from "papaparse";
import { afterAll, afterEach, beforeAll, describe, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { notWritten } from "../../../recorder/cli/records/files.ts";
import { charactersFor } from "../../../recorder/cli/terminal-characters.ts";
import { setPlot } from "../../../recorder/drawing/set-plot.ts";
import { type FakeGym, SET, SET_ID } from "../control/fake-gym.ts";
import { type DrawnSet, drawnSet, keptSet } from "../drawing/drawn-sets.ts";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

let here: Running;
let drawn: DrawnSet;
let sets: SetMessage[] = [];
let curveOf: FakeGym["curveOf"];
const asked: unknown[] = [];
beforeAll(async () => {
  drawn = await drawnSet("hold");
  curveOf = async () => drawn.curve;
  here = await running({
    record: {
      set: async (set_id) => (set_id === drawn.message.set_id ? keptSet("hold") : null),
      sets: async (query) => {
        asked.push(query);
        return { store: drawn.message.store, first_set_seq: 1, last_set_seq: 1, more: false, sets };
      },
    },
    curveOf: (...words) => curveOf(...words),
  });
});
afterAll(() => here.stop());
afterEach(() => {
  asked.length = 0;
});

const show = (...words: string[]) => cli("show", ...words, "--socket", here.socket);
const file = (name: string): string => join(here.directory, name);

test("the drawing stands above the fields, in ASCII where nobody looks", async () => {
  const { exit, out, error } = await show(drawn.message.set_id);
  expect([exit, error]).toEqual([0, ""]);
  const [picture, fields] = out.split("\n\nset id ") as [string, string];
  expect(picture).toMatch(
    /^force, N {3}\. best 664\.8 N {3}- floor 498\.6 N\n\| 22\.6 s: below the floor for 1\.0 s\n/,
  );
  expect(picture).toMatch(/^[\n -~]+$/);
  expect(fields).toMatch(/^best force +664\.8 N$/m);
});

test("--svg writes the picture of that set, and never over a file", async () => {
  const path = file("hold.svg");
  const said = await show(drawn.message.set_id, "--svg", path);
  expect(said).toEqual({ exit: 0, out: `set ${drawn.message.set_id} drawn in ${path}`, error: "" });
  const { message, curve, floor } = drawn;
  expect(readFileSync(path, "utf8")).toBe(`${setPlot(message, curve, { unit: "N", time_zone: "UTC", floor })}\n`);
  writeFileSync(path, "mine");
  expect(await show(drawn.message.set_id, "--svg", path)).toMatchObject({
    exit: 1,
    error: `${path} was not written, it is there already: name another file`,
  });
  expect(readFileSync(path, "utf8")).toBe("mine");
});

test("--svg - is the picture alone", async () => {
  const { out, error } = await show(drawn.message.set_id, "--svg", "-");
  expect(out).toMatch(/^<svg .*<\/svg>$/s);
  expect(error).toBe("");
});

test("--curve is a table after RFC 4180 that an independent reader reads back to the reading", async () => {
  const { curve, message } = drawn;
  const middle = Math.floor(curve.force_N.length / 2);
  const holed = { ...curve, force_N: curve.force_N.map((N, index) => (index === middle ? null : N)) };
  curveOf = async () => holed;
  const path = file("curve.csv");
  const { exit, out } = await show(message.set_id, "--curve", path);
  curveOf = async () => curve;
  expect(exit).toBe(0);
  expect(out).toBe(
    `${curve.elapsed_s.length} readings of set ${message.set_id} in ${path}\n` +
      `these readings hold the resting force of ${message.resting_force_N} N, which the set's own figures leave out`,
  );
  const bytes = readFileSync(path, "utf8");
  expect(bytes.startsWith("elapsed_s,force_N\r\n")).toBe(true);
  // Section 2, rule 1: every record ends in CRLF; no line feed stands alone.
  expect(bytes.replaceAll("\r\n", "")).not.toMatch(/[\r\n]/);
  expect(bytes.endsWith("\r\n")).toBe(true);
  const { data, errors } = Papa.parse<{ elapsed_s: string; force_N: string }>(bytes, {
    header: true,
    skipEmptyLines: true,
  });
  expect(errors).toEqual([]);
  expect(data.map((row) => Number(row.elapsed_s))).toEqual(holed.elapsed_s);
  expect(data.map((row) => (row.force_N === "" ? null : Number(row.force_N)))).toEqual(holed.force_N);
});

test("--curve never writes over a file, and both files are written at once", async () => {
  const [svg, csv] = [file("both.svg"), file("both.csv")];
  expect((await show(drawn.message.set_id, "--svg", svg, "--curve", csv)).exit).toBe(0);
  expect([existsSync(svg), existsSync(csv)]).toEqual([true, true]);
  expect((await show(drawn.message.set_id, "--curve", csv)).error).toMatch(/was not written, it is there already/);
  expect(await show(drawn.message.set_id, "--curve", "-", "--svg", "-")).toMatchObject({ exit: 2 });
  const nowhere = file("none/set.svg");
  expect((await show(drawn.message.set_id, "--svg", nowhere)).error).toBe(
    `${nowhere} was not written, there is no folder ${dirname(nowhere)}: make it, or name another`,
  );
});

test("--curve - is the table alone; what there is to say goes to the other output", async () => {
  const { out, error } = await show(drawn.message.set_id, "--curve", "-");
  expect(out).toMatch(/^elapsed_s,force_N\r\n-?[\d.]+,-?[\d.]+\r\n/);
  expect(out).not.toContain("resting");
  expect(error).toMatch(/^these readings hold the resting force/);
});

test("--json is what the recorder said, without a curve nobody asked for", async () => {
  const { out } = await show(drawn.message.set_id, "--json");
  expect(JSON.parse(out)).toEqual({ set: drawn.message });
});

describe("the beginning of an id", () => {
  const message = (set_id: string) => ({ ...SET, set_id });

  test("is looked for in the minute it names, and a set armed for three minutes is found", async () => {
    sets = [message(drawn.message.set_id), message(SET_ID)];
    const { exit, out } = await show(drawn.message.set_id.slice(0, 13).toUpperCase());
    expect(exit).toBe(0);
    expect(out).toContain(`\nset id                  ${drawn.message.set_id}\n`);
    const at_ms = Number.parseInt(drawn.message.set_id.replaceAll("-", "").slice(0, 12), 16);
    const [query] = asked as [{ from: string; to: string }];
    expect(Date.parse(query.from)).toBeLessThanOrEqual(at_ms);
    expect(Date.parse(query.to)).toBeGreaterThanOrEqual(at_ms + 180_000);
    await show(drawn.message.set_id.slice(0, 8));
    const short = asked[1] as { from: string; to: string };
    expect(Date.parse(short.to) - Date.parse(short.from)).toBeLessThan(300_000);
  });

  test("of several sets is not guessed", async () => {
    const other = drawn.message.set_id.replace(/1$/, "2");
    sets = [message(drawn.message.set_id), message(other)];
    expect(await show("01930000")).toEqual({
      exit: 2,
      out: "",
      error: `01930000 is the beginning of 2 sets, so give more of it: ${drawn.message.set_id}, ${other}`,
    });
  });

  test.each(["019ab3c0", "ffffffff"])("of none: %s", async (typed) => {
    sets = [];
    expect(await show(typed)).toEqual({
      exit: 1,
      out: "",
      error: `no set whose id begins with ${typed} was found: \`tidemark sets\` lists whole ids`,
    });
  });

  test.each(["0193000", "leg-press", "0193000g"])("what is none is no set id: %s", async (typed) => {
    const error = expect.stringMatching(/^SET_ID takes a set's id, or its first eight characters or more/);
    expect(await show(typed)).toMatchObject({ exit: 2, error });
    expect(asked).toEqual([]);
  });
});

test("a set whose readings cannot be read has its figures; a picture of it is refused", async () => {
  curveOf = async () => {
    throw new Error("the log is of a later version");
  };
  const { exit, out, error } = await show(drawn.message.set_id);
  const picture = await show(drawn.message.set_id, "--svg", file("unread.svg"));
  curveOf = async () => drawn.curve;
  expect(exit).toBe(0);
  expect(out).toMatch(/^set id /);
  expect(error).toBe("its readings cannot be read, so it is not drawn: the recorder's log says why");
  expect(picture.exit).toBe(1);
  expect(existsSync(file("unread.svg"))).toBe(false);
});

describe("Braille is for who looks at a terminal that shows it", () => {
  const of = (columns: number | null, environment: Record<string, string>) =>
    charactersFor({ columns: () => columns }, environment);

  test.each([
    [100, { LANG: "de_DE.UTF-8", TERM: "xterm-256color" }, { columns: 100, characters: "braille" }],
    [100, { LANG: "C", LC_ALL: "C.utf8" }, { columns: 100, characters: "braille" }],
    [100, { LANG: "C.UTF-8", LC_ALL: "" }, { columns: 100, characters: "braille" }],
    [300, { LANG: "C.UTF-8" }, { columns: 120, characters: "braille" }],
    [0, { LANG: "C.UTF-8" }, { columns: 80, characters: "braille" }],
    [100, { LANG: "de_DE.UTF-8", LC_ALL: "C" }, { columns: 100, characters: "ascii" }],
    [100, { LANG: "de_DE.UTF-8", TERM: "linux" }, { columns: 100, characters: "ascii" }],
    [100, {}, { columns: 100, characters: "ascii" }],
    [null, { LANG: "de_DE.UTF-8" }, { columns: 80, characters: "ascii" }],
  ] as const)("%s columns, %j", (columns, environment, expected) => {
    expect(of(columns, environment)).toEqual(expected);
  });
});

test("a file that cannot be begun is told with what would do", () => {
  const said = (code: string): string => notWritten("/srv/set.svg", Object.assign(new Error("raw"), { code })).message;
  expect(said("EACCES")).toBe("/srv/set.svg was not written, you may not write in /srv: name another folder");
  expect(said("EROFS")).toBe("/srv/set.svg was not written, nothing can be written in /srv: name another folder");
  expect(said("EMFILE")).toBe("/srv/set.svg was not written, raw");
});
