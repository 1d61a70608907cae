/** Kept sets as tables, from the command line down to the store, read back by a reader that is not ours. */
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import Papa from "papaparse";
import { afterAll, beforeAll, expect, test } from "vitest";
import { effortSchema, type SetMessage, setSchema } from "../../../../protocol/messages/set.ts";
import { runCli } from "../../../../recorder/cli/cli.ts";
import { openTables, type Tables } from "../../../../recorder/store/tables.ts";
import { SET } from "../../control/fake-gym.ts";
import { instantAt, inventedSet, toKeep, uuidOf } from "../../store/invented.ts";
import { cli, fakeTerminal } from "../fake-terminal.ts";
import { type Running, running } from "../running.ts";

const MAIN = fileURLToPath(new URL("../../../../recorder/main.ts", import.meta.url));
const NOTES = [
  'said "better", then, later: worse',
  "Sitz höher, süß 💪",
  "=HYPERLINK(1)",
  "two\r\nlines; with, all",
  "-12.5",
  null,
];

const directory = mkdtempSync(join(tmpdir(), "tidemark-tables-"));
let tables: Tables;
let here: Running;
let asked: object[] = [];
beforeAll(async () => {
  tables = openTables(join(directory, "tidemark.db"));
  for (const [index, note] of NOTES.entries()) {
    tables.methods.keep(
      toKeep(inventedSet(index + 1, { note, side: index % 2 === 0 ? "left" : null, efforts: SET.efforts })),
    );
  }
  here = await running({
    record: {
      sets: async (query) => {
        asked.push(query);
        return tables.methods.sets(query);
      },
    },
  });
});
afterAll(async () => {
  await here.stop();
  tables.methods.close();
  rmSync(directory, { recursive: true });
});
const ask = (...words: string[]) => cli("sets", ...words, "--socket", here.socket);

/** What goes to the standard output, byte for byte. */
async function written(...words: readonly string[]): Promise<string> {
  const terminal = fakeTerminal();
  expect(await runCli(["sets", ...words, "--socket", here.socket], terminal)).toBe(0);
  return terminal.said.join("");
}

type Row = Record<string, string>;
const readBack = (text: string, delimiter = ","): Row[] => {
  const { data, errors } = Papa.parse<Row>(text, { header: true, delimiter, skipEmptyLines: true });
  expect(errors).toEqual([]);
  return data;
};
const said = (value: unknown): string => (value === null ? "" : String(value));
const unguarded = (text: string): string => text.replace(/^'(?='*[=+\-@\t\r])/, "");

test("every value of every set comes back, in the order of the message", async () => {
  const rows = readBack(await written("--csv", "-"));
  const { sets } = tables.methods.sets({});
  expect(rows).toHaveLength(sets.length);
  for (const [index, set] of sets.entries()) {
    const row = rows[index]!;
    for (const name of Object.keys(setSchema.shape).filter((one) => !["options", "quality", "efforts"].includes(one))) {
      expect([name, unguarded(row[name]!)]).toEqual([name, said(set[name])]);
    }
    for (const block of ["options", "quality"] as const) {
      for (const [name, value] of Object.entries(set[block])) expect(row[`${block}.${name}`]).toBe(said(value));
    }
    expect([row["efforts"], row["efforts_counted"]]).toEqual(["3", "2"]);
  }
  const order = Object.keys(rows[0]!).filter((name) => Object.hasOwn(setSchema.shape, name));
  expect(order).toEqual(Object.keys(setSchema.shape).filter((name) => !["options", "quality"].includes(name)));
});

test("efforts have rows of their own, and say whose they are", async () => {
  const rows = readBack(await written("--csv-efforts", "-", "--limit", "2"));
  expect(rows).toHaveLength(6);
  expect(rows.map((row) => row["set_id"])).toEqual([5, 5, 5, 6, 6, 6].map(uuidOf));
  for (const [index, effort] of SET.efforts.entries()) {
    for (const name of Object.keys(effortSchema.shape)) expect(rows[index]![name]).toBe(said(effort[name]));
  }
});

test("with decimal commas: semicolons, a byte order mark, the same values", async () => {
  const out = await written("--csv", "-", "--decimal-comma");
  expect(out.startsWith("\ufeffschema_version;at;")).toBe(true);
  const plain = readBack(await written("--csv", "-"));
  const rows = readBack(out.slice(1), ";");
  expect(rows[0]!["duration_s"]).toBe("61,25");
  expect(rows.map((row) => row["note"])).toEqual(plain.map((row) => row["note"]));
  expect(rows.map((row) => row["best_force_N"]!.replace(",", "."))).toEqual(plain.map((row) => row["best_force_N"]));
});

test("the filters go to the recorder; a file that is there is left alone", async () => {
  const file = join(here.directory, "sets.csv");
  asked = [];
  const ran = await ask(
    "--side",
    "left",
    "--style",
    "hold",
    "--exercise",
    "leg-press",
    "--day",
    "2026-11-24",
    "--csv",
    file,
  );
  expect(ran).toEqual({ exit: 0, out: `3 sets in ${file}`, error: "" });
  expect(asked).toEqual([
    {
      side: "left",
      style: "hold",
      exercise: "leg-press",
      from: "2026-11-24T00:00:00.000Z",
      to: "2026-11-25T00:00:00.000Z",
      limit: 1000,
      from_set_seq: 0,
    },
  ]);
  const before = readFileSync(file, "utf8");
  expect(await ask("--csv", file)).toEqual({
    exit: 1,
    out: "",
    error: `${file} was not written, it is there already: name another file`,
  });
  expect(readFileSync(file, "utf8")).toBe(before);
});

test("a table that breaks off is taken away again", async () => {
  let pages = 0;
  const other = await running({
    record: {
      sets: async (query) => {
        pages += 1;
        if (pages > 1) throw new Error("no more");
        return { ...tables.methods.sets({ ...query, limit: 2 }), more: true };
      },
    },
  });
  const file = join(other.directory, "half.csv");
  const { exit } = await cli("sets", "--csv", file, "--socket", other.socket);
  expect([exit, pages, existsSync(file)]).toEqual([1, 2, false]);
  await other.stop();
});

test("a set amended while it is written is in it once, and more than 10,000 sets fit", {
  timeout: 60_000,
}, async () => {
  const many = 10_500;
  const queries: number[] = [];
  const made = (set_seq: number, over: Partial<SetMessage> = {}): SetMessage =>
    inventedSet(set_seq, { set_seq, ...over });
  const other = await running({
    record: {
      sets: async ({ from_set_seq = 1, limit = 100 }) => {
        const first = Math.max(1, from_set_seq);
        queries.push(first);
        const count = Math.max(0, Math.min(limit, many - first + 1));
        const sets = Array.from({ length: count }, (_, index) => made(first + index));
        const more = first + count <= many;
        // The third set again, as its second revision, at the end of the log.
        const revised = more ? [] : [made(3, { set_seq: many + 1, revision: 2 })];
        return { store: uuidOf(0), first_set_seq: 1, last_set_seq: many + 1, more, sets: [...sets, ...revised] };
      },
    },
  });
  const file = join(other.directory, "many.csv");
  const ran = await cli("sets", "--csv", file, "--socket", other.socket);
  expect(ran.out).toBe(`${many} sets in ${file}`);
  expect(queries).toHaveLength(11);
  const ids = readBack(readFileSync(file, "utf8")).map((row) => row["set_id"]);
  expect(ids).toEqual(Array.from({ length: many }, (_, index) => uuidOf(index + 1)));
  await other.stop();
});

test("limits beyond a page are the newest so many", async () => {
  const rows = readBack(await written("--csv", "-", "--limit", "5000"));
  expect(rows).toHaveLength(NOTES.length);
  const newest = readBack(await written("--csv", "-", "--limit", "2"));
  expect(newest.map((row) => row["set_id"])).toEqual([5, 6].map(uuidOf));
});

test("the country and the clock of the machine change no byte", { timeout: 60_000 }, async () => {
  const run = (environment: Record<string, string>): Promise<Buffer> =>
    new Promise((resolve, reject) => {
      const words = ["sets", "--csv", "-", "--socket", here.socket];
      const child = spawn(process.execPath, ["--import", "tsx", MAIN, ...words], {
        env: { ...process.env, ...environment },
        stdio: ["ignore", "pipe", "inherit"],
      });
      const parts: Buffer[] = [];
      child.stdout.on("data", (part: Buffer) => parts.push(part));
      child.once("error", reject);
      child.once("close", (exit) => (exit === 0 ? resolve(Buffer.concat(parts)) : reject(new Error(`exit ${exit}`))));
    });
  const german = await run({ LC_ALL: "de_DE.UTF-8", LANG: "de_DE.UTF-8", TZ: "Europe/Berlin" });
  const plain = await run({ LC_ALL: "C", LANG: "C", TZ: "Pacific/Auckland" });
  expect(plain.equals(german)).toBe(true);
  // The lines' own ends are all there is: nothing follows the last one.
  expect(plain.toString()).toBe(await written("--csv", "-"));
  expect(readBack(plain.toString())[0]!["started_at_local"]).toBe(instantAt(1).slice(0, 19).replace("T", " "));
});

test.each<[string[], string]>([
  [
    ["--csv", "-", "--csv-efforts", "-"],
    "--csv and --csv-efforts both to the standard output would make a table of neither: name a file",
  ],
  [["--csv", "-", "--json"], "--json and --csv are asked one at a time"],
  [["--decimal-comma"], "--decimal-comma is for --csv and --csv-efforts"],
  [["--day", "2026-02-30"], "--day takes a day such as 2026-11-24, not 2026-02-30"],
  [["--day", "2026-11-24", "--from", "2026-11-01"], "--day is a whole day: leave out --from and --to"],
  [["--style", "fast"], "--style must be hold, continuous, eccentric-only or rest-pause"],
])("%j is wrong usage", async (words, error) => {
  expect(await ask(...words)).toEqual({ exit: 2, out: "", error });
});

test("a list says that there are earlier ones", async () => {
  const { out, error } = await ask("--limit", "2");
  expect(out.split("\n")).toHaveLength(3);
  expect(error).toBe("there are earlier ones that fit: --limit 4 shows more");
});
