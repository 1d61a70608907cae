/** `calibrations` end to end: the command, a socket, the dispatcher, and a store. */
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { calibrationRecordSchema, checkRecordSchema } from "../../../../calibration/record.ts";
import { done } from "../../../../protocol/requests/response.ts";
import { importCalibration } from "../../../../recorder/run/importing.ts";
import { openTables, type StoreMethods } from "../../../../recorder/store/tables.ts";
import { instantAt, inventedCheck, inventedRecord } from "../../store/invented.ts";
import { cli } from "../fake-terminal.ts";
import { type Running, running } from "../running.ts";

const FIRST_ID = "aaaa1111-0000-4000-8000-000000000001";
const SECOND_ID = "aaaa2222-0000-4000-8000-000000000002";
const first = inventedRecord(1, { calibration_id: FIRST_ID, due: null });
const second = inventedRecord(2, {
  calibration_id: SECOND_ID,
  counts_per_N: 400,
  friction_N: 1.25,
  cell: "LC-0417",
  note: "after the new cable",
  due: "2020-01-02T00:00:00.000Z",
  budget: [
    { source: "load tolerance", standard_uncertainty_N: 2.5 },
    { source: "friction", standard_uncertainty_N: 5, constant: true },
  ],
  points: inventedRecord(2).points.map((point, index) =>
    index === 0
      ? point
      : {
          ...point,
          mass_kg: 100,
          loading: "increasing" as const,
          applied: { at: "handle" as const, lever_angle_deg: 10, relative_tolerance: 0.001 },
        },
  ),
  checks: inventedCheck(1).checks.map((check) => ({ ...check, when: "as-left" as const })),
});
const check = inventedCheck(3, { due: null }, second);

const directory = mkdtempSync(join(tmpdir(), "tidemark-records-"));
let store: StoreMethods;
let here: Running;
beforeAll(async () => {
  store = openTables(join(directory, "tidemark.db")).methods;
  for (const record of [first, second]) store.saveCalibration(record);
  store.saveCheck(check);
  const { calibrations, calibrationInForce, calibrationDue, putInForce, checks, zeros } = store;
  here = await running({
    record: {
      calibrations: async (station) => calibrations(station),
      calibrationInForce: async (station) => calibrationInForce(station),
      calibrationDue: async (station) => calibrationDue(station),
      putInForce: async (station) => putInForce(station),
      checks: async (station) => checks(station),
      zeros: async (station, limit) => zeros(station, limit),
    },
    answer: async ({ request }) => {
      if (request.verb !== "calibration-use") throw new Error("nobody asks");
      const { calibration_id } = request.args;
      const changed = calibration_id !== SECOND_ID;
      const warnings = changed ? ["The calibration was taken with board a, and this is b."] : [];
      return done({
        calibration_id,
        formerly: SECOND_ID,
        changed,
        warnings,
        ...(changed ? { hint: "Zero now." } : {}),
      });
    },
  });
  Object.assign(here.gym.records, {
    importCalibration: (args: { calibration: Record<string, unknown> }) =>
      importCalibration(args, {
        stations: here.gym.stations.ids(),
        store: { importCalibration: async (record) => store.importCalibration(record) },
      }),
  });
});
afterAll(async () => {
  await here.stop();
  store.close();
  rmSync(directory, { recursive: true });
});

const list = (...words: string[]) => cli("calibrations", "leg-press", ...words, "--socket", here.socket);
const service = (...words: string[]) => cli("calibrations", "leg-press", ...words, "--socket", here.service_socket);
const file = (name: string): string => join(here.directory, name);

describe("the list", () => {
  test("says what is overdue, by a record's checks as well, and since when", async () => {
    const { exit, out } = await list();
    expect(exit).toBe(0);
    expect(out).toContain(`in force  ${instantAt(2).slice(0, 16).replace("T", " ")}`);
    expect(out).toMatch(/^checked +record +loads +worst/m);
    expect(out).toContain(check.check_id.slice(0, 8));
    expect(out).toMatch(/in force is overdue: it was due on 2020-01-02, \d+ days ago\. Check it with known loads/);
  });

  test("as JSON is the recorder's answer", async () => {
    const answer = JSON.parse((await list("--json")).out);
    expect(answer).toMatchObject({ in_force: SECOND_ID, calibrations: [second, first], checks: [check] });
  });
});

describe("one record", () => {
  test("in words, by the beginning of its id", async () => {
    const { exit, out } = await list("--show", "AAAA2");
    expect(exit).toBe(0);
    for (const line of [
      /^calibration +aaaa2222-0000-4000-8000-000000000002$/m,
      /^in force +since 2026-11-24 09:02:00, put in force by tech-1$/m,
      /^scale +400 counts\/N$/m,
      /^uncertainty +11\.5 N at 2500 N \(0\.46 %\), k = 2$/m,
      /^friction +1\.25 N either way/m,
      /^cell +LC-0417, 5000 N$/m,
      /^board +press-left, hx711, gain 128$/m,
      /^note +after the new cable$/m,
      /^980\.50 N +100 kg +increasing +handle, lever at 10 deg +40911\.0/m,
      /^friction +5\.00 N +0\.200 % +the same at every force$/m,
      /^load tolerance +2\.50 N +0\.100 % +in proportion to the force$/m,
      /^as-left +1 +increasing +490\.25 N +50 kg +490\.30 N +0\.05 N +0\.01 %$/m,
      /^Checked since\nchecked/m,
    ]) {
      expect(out).toMatch(line);
    }
  });

  test("of before there was more to say", async () => {
    const { out } = await list("--show", FIRST_ID);
    expect(out).toMatch(/^in force +not now; last since 2026-11-24 09:01:00, put in force by tech-1$/m);
    expect(out).toMatch(/^scale +-41\.125 counts\/N, so the wires are reversed/m);
    expect(out).toMatch(/^friction +not tried/m);
    expect(out).toMatch(/^cell +not told, 5000 N$/m);
    expect(out).not.toMatch(/Known loads|Checked since/);
  });

  test("as JSON is the record", async () => {
    expect(calibrationRecordSchema.parse(JSON.parse((await list("--show", "aaaa2", "--json")).out))).toEqual(second);
  });

  test("or one check, by the beginning of its own id", async () => {
    const id = check.check_id.slice(0, 8);
    expect((await list("--show", id)).out).toMatch(
      new RegExp(`^Check with known loads[\\s\\S]*^check +${check.check_id}$`, "m"),
    );
    expect(checkRecordSchema.parse(JSON.parse((await list("--show", id, "--json")).out))).toEqual(check);
  });

  test.each<[string, number, RegExp]>([
    ["aaa", 2, /too short for an id: give at least its first 4/],
    ["aaaa", 2, /aaaa may be any of aaaa2222-.*, aaaa1111-.*: give more of it/],
    ["bbbb", 1, /no calibration of this station begins with bbbb/],
  ])("%s is not found", async (id, exit, error) => {
    for (const what of ["--show", "--compare", "--use"]) {
      expect(await list(what, id)).toMatchObject({ exit, error: expect.stringMatching(error), out: "" });
    }
  });
});

describe("two records", () => {
  test("side by side, and one with the one in force", async () => {
    const both = await list("--compare", "aaaa1,aaaa2");
    expect(both.out).toMatch(/The wires are the other way round/);
    expect(await list("--compare", "aaaa1")).toEqual(both);
    const figures = JSON.parse((await list("--compare", "aaaa1", "--json")).out);
    expect(figures).toMatchObject({ former: FIRST_ID, later: SECOND_ID, within: false });
  });

  test("are two", async () => {
    expect(await list("--compare", "aaaa2")).toMatchObject({ exit: 2, error: expect.stringContaining("with itself") });
    expect(await list("--compare", "aaaa1,aaaa2,aaaa1")).toMatchObject({ exit: 2 });
  });
});

test("a record is put in force through the service socket, with what there is to know", async () => {
  const used = await service("--use", "aaaa1", "--performed-by", "tech-9");
  expect(used).toEqual({
    exit: 0,
    out: `${FIRST_ID} is in force at leg-press\nThe calibration was taken with board a, and this is b.\nZero now.`,
    error: "",
  });
  expect(here.gym.asked.at(-1)).toMatchObject({
    request: { verb: "calibration-use", args: { station: "leg-press", calibration_id: FIRST_ID } },
    asker: { performed_by: "tech-9" },
  });
  expect((await service("--use", "aaaa2")).out).toBe(`${SECOND_ID} was in force at leg-press already`);
  expect(await list("--use", "aaaa1")).toMatchObject({ exit: 1, error: expect.stringContaining("service socket") });
});

test("where the zero stood, and why it moved, in words, as JSON and as a picture", async () => {
  expect((await list("--zeros")).out).toBe("no zero has been saved here yet");
  const zero = { calibration_id: SECOND_ID, asked_shift_counts: 0 };
  const asked = { ...zero, shift_counts: 800, at: instantAt(10), cause: "asked", performed_by: "tech-1" } as const;
  const tracked = { ...zero, shift_counts: 1000, at: instantAt(20), cause: "tracked", performed_by: null } as const;
  for (const moved of [asked, tracked]) store.saveZero("leg-press", moved);
  const { out } = await list("--zeros");
  expect(out).toContain("it stood 2.5 N from the calibrated zero\nmoved 2 times, 1 of them asked for or put back");
  expect(out).toMatch(/^2026-11-24 09:10:00 +asked +2\.0 N +tech-1$/m);
  expect(JSON.parse((await list("--zeros", "--json")).out).zeros).toMatchObject([
    { zero_shift_N: 2 },
    { cause: "tracked" },
  ]);
  const path = file("zero.svg");
  expect(await list("--zeros", "--svg", path)).toEqual({ exit: 0, out: `the zero of leg-press in ${path}`, error: "" });
  const svg = readFileSync(path, "utf8");
  expect(svg).toMatch(/^<svg .*2\.5 N from the calibrated zero at the end.*<\/svg>\n$/s);
  expect((await list("--zeros", "--svg", "-")).out).toBe(svg.trimEnd());
  expect(await list("--zeros", "--svg", path)).toMatchObject({
    exit: 1,
    error: expect.stringContaining("there already"),
  });
  expect(await list("--svg", path)).toMatchObject({ exit: 2, error: "--svg is for --zeros" });
});

describe("out and in again", () => {
  test("every record, one a line, oldest first; what is there is not written over", async () => {
    const path = file("all.jsonl");
    expect(await list("--export", path)).toEqual({ exit: 0, out: `2 records in ${path}`, error: "" });
    const lines = readFileSync(path, "utf8").trimEnd().split("\n");
    expect(lines.map((line) => JSON.parse(line))).toEqual([first, second]);
    writeFileSync(path, "mine");
    expect(await list("--export", path)).toMatchObject({ exit: 1, error: expect.stringContaining("there already") });
    expect(readFileSync(path, "utf8")).toBe("mine");
    expect((await list("--export", "-")).out.split("\n")).toEqual(lines);
  });

  test("one record by itself", async () => {
    const path = file("one.json");
    expect((await list("--show", "aaaa1", "--export", path)).out).toBe(`1 record in ${path}`);
    expect(JSON.parse(readFileSync(path, "utf8"))).toEqual(first);
    expect(await service("--import", path)).toEqual({ exit: 0, out: `${FIRST_ID}: was here already`, error: "" });
  });

  test("a record of elsewhere is kept", async () => {
    const other = inventedRecord(7, { calibration_id: "bbbb3333-0000-4000-8000-000000000003" });
    const path = file("other.jsonl");
    writeFileSync(path, `${JSON.stringify(first)}\n\n${JSON.stringify(other)}\n`);
    const { exit, out } = await service("--import", path, "--json", "--performed-by", "tech-9");
    expect([exit, JSON.parse(out)]).toEqual([
      0,
      {
        imported: [
          { calibration_id: FIRST_ID, station: "leg-press", imported: false },
          { calibration_id: other.calibration_id, station: "leg-press", imported: true },
        ],
      },
    ]);
    expect(store.calibration(other.calibration_id)).toEqual(other);
    expect(store.calibrationInForce("leg-press")).toEqual(second);
  });

  test.each<[string, string, number, RegExp]>([
    [
      "of another station",
      JSON.stringify({ ...first, station: "row" }),
      2,
      /aaaa1111 is a record of row, not of leg-press, so nothing/,
    ],
    ["that is no record", "{}", 2, /not a calibration record, so nothing was imported/],
    [
      "that is torn",
      `${JSON.stringify(first)}\n{"record_version":`,
      1,
      /line 2 of .* is not a JSON object, so nothing/,
    ],
    ["that is empty", "\n", 1, /holds no record/],
    ["with a fault", JSON.stringify({ ...first, gain: "much" }), 1, /This is not a calibration record: gain must be/],
    [
      "with a fault in its second record",
      `${JSON.stringify(first)}\n${JSON.stringify({ ...first, note: "edited" })}`,
      1,
      /never changed\. .* \(1 of 2 were taken before\)/,
    ],
  ])("a file %s is refused", async (name, text, exit, error) => {
    const path = file(`${name}.json`);
    writeFileSync(path, text);
    expect(await service("--import", path)).toMatchObject({ exit, error: expect.stringMatching(error), out: "" });
  });

  test("a file that is not there is said", async () => {
    expect(await service("--import", file("none"))).toMatchObject({
      exit: 1,
      error: expect.stringContaining("cannot be read"),
    });
    expect(existsSync(file("none"))).toBe(false);
    expect(await list("--export", join(here.directory, "no", "such"))).toMatchObject({ exit: 1 });
  });
});

describe("wrong usage is said", () => {
  test.each<[string[], RegExp]>([
    [["--show", "aaaa1", "--use", "aaaa1"], /--show and --use are asked one at a time/],
    [["--compare", "aaaa1", "--export", "x"], /--export is for the list and for --show/],
    [["--import", "x", "--export", "y"], /--import and --export/],
    [["--performed-by", "tech-9"], /--performed-by is for/],
  ])("%j", async (words, error) => {
    expect(await list(...words)).toMatchObject({ exit: 2, error: expect.stringMatching(error) });
  });
});
