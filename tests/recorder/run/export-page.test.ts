/** protocol/EXPORT.md, held to the program: its example is read and taken in, and what it says of sizes is so. */
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { expect, test } from "vitest";
import { endSchema, headerSchema, KINDS, LINE_CAP_BYTES, lineSchema } from "../../../recorder/store/export-lines.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { comparable, exported, faultOf, imported } from "../store/exported.ts";
import { storePath } from "../store/store-path.ts";

const PAGE = readFileSync(new URL("../../../protocol/EXPORT.md", import.meta.url), "utf8");
const EXAMPLE = /```jsonl\n([\s\S]*?)```/.exec(PAGE)?.[1] ?? "";
const lines = EXAMPLE.split("\n")
  .filter((line) => line !== "")
  .map((line) => JSON.parse(line) as Record<string, unknown>);

test("the example has every kind of line, in the order of the table", () => {
  const table = [...PAGE.matchAll(/^\| `([a-z-]+)` /gm)].map(([, kind]) => kind);
  expect(lines.map(({ kind }) => kind)).toEqual(table);
  expect(table).toEqual(["tidemark-export", ...KINDS, "end"]);
});

test("the example is taken in, and comes out as it was", () => {
  const path = storePath();
  const tables = openTables(path);
  const file = join(dirname(path), "example.jsonl");
  writeFileSync(file, EXAMPLE);
  imported(tables, file);
  const { lines: again } = exported(tables, join(dirname(path), "again.jsonl"));
  expect(comparable(again)).toEqual(comparable(lines));
  tables.methods.close();
});

test("a key that is not in the example of a strict line is a fault, and every key of one is on the page", () => {
  const file = join(dirname(storePath()), "changed.jsonl");
  for (const line of lines) {
    const schema = line["kind"] === "tidemark-export" ? headerSchema : line["kind"] === "end" ? endSchema : lineSchema;
    expect(schema.safeParse(line).success).toBe(true);
    expect(schema.safeParse({ ...line, surplus: 1 }).success).toBe(false);
    for (const key of Object.keys(line)) expect(PAGE).toContain(`\`${key}\``);
  }
  expect(faultOf(file, EXAMPLE)).toBeNull();
  expect(faultOf(file, EXAMPLE.replace("band-0142", "band-0143"))?.what).toMatch(/not those that were written/);
});

test("the cap is the one that is said", () => expect(PAGE).toContain(`${LINE_CAP_BYTES.toLocaleString("en")} bytes`));
