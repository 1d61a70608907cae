import { createHash } from "node:crypto";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { userInfo } from "node:os";
import { dirname, join } from "node:path";
import { expect, test } from "vitest";
import { onOneDisk } from "../../../recorder/store/backup-room.ts";
import { openLineFile } from "../../../recorder/store/export-file.ts";
import { LINE_CAP_BYTES } from "../../../recorder/store/export-lines.ts";
import { fileTrouble } from "../../../recorder/store/file-trouble.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { exported, imported, said } from "./exported.ts";
import { inventedLog, inventedSet, plainLog, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

const somewhere = (): string => join(dirname(storePath()), "all.jsonl");

test("what was left of an export that was killed is written over", () => {
  const path = somewhere();
  writeFileSync(`${path}.partial`, "half a line of another day, and more of it");
  const file = openLineFile(path);
  expect(file.line({ a: 1 })).toBe(true);
  expect(file.sum()).toBe(createHash("sha256").update('{"a":1}\n').digest("hex"));
  expect(existsSync(path)).toBe(false);
  expect(file.finish()).toBe(8);
  expect(readFileSync(path, "utf8")).toBe('{"a":1}\n');
  expect(existsSync(`${path}.partial`)).toBe(false);
});

test("a line over the cap is not written", () => {
  const path = somewhere();
  const file = openLineFile(path);
  expect([file.line({ a: 1 }, 7), file.line({ a: 12 }, 7)]).toEqual([true, false]);
  file.finish();
  expect(readFileSync(path, "utf8")).toBe('{"a":1}\n');
});

test("a disk is not filled, and a file that came meanwhile is not written over", () => {
  const path = somewhere();
  const full = openLineFile(path, Number.MAX_SAFE_INTEGER);
  full.line({ a: 1 });
  expect(() => full.finish()).toThrow(
    "The disk there is nearly full: make room on it, or name a folder on another one.",
  );
  full.abandon();
  expect([path, `${path}.partial`].map((name) => existsSync(name))).toEqual([false, false]);
  const file = openLineFile(path);
  writeFileSync(path, "somebody's");
  expect(() => file.finish()).toThrow(/came to be there meanwhile/);
  file.abandon();
  expect(readFileSync(path, "utf8")).toBe("somebody's");
  expect(existsSync(`${path}.partial`)).toBe(false);
});

test("room is left to the store on its own disk, not on a stick", () => {
  const folder = dirname(storePath());
  expect([onOneDisk(folder, dirname(folder)), onOneDisk(folder, "/proc")]).toEqual([true, false]);
  expect(() => onOneDisk(folder, join(folder, "nowhere"))).toThrow("ENOENT");
});

test("fifteen minutes at 80 readings a second fit a line, and come back", () => {
  const path = storePath();
  const tables = openTables(path);
  const log = inventedLog(1, 900 * 80);
  tables.methods.keep(toKeep(inventedSet(1), "", log));
  tables.methods.keep(toKeep(inventedSet(2), "", log));
  const file = join(dirname(path), "all.jsonl");
  const { text } = exported(tables, file);
  const longest = Math.max(...text.split("\n").map((line) => line.length));
  expect(longest).toBeGreaterThan(100_000);
  expect(longest).toBeLessThan(LINE_CAP_BYTES / 16);
  // Each is a piece of its own: 256 KiB are through in a moment.
  expect(said(file).map(({ is }) => is)).toEqual(["sound", "piece", "piece", "done"]);
  const into = openTables(storePath());
  imported(into, file);
  expect(plainLog(into.methods.set(uuidOf(2))!.log)).toEqual(plainLog(log));
  for (const { methods } of [tables, into]) methods.close();
});

test.each([
  [
    "EACCES",
    "write",
    "not-permitted",
    `written by the user ${userInfo().username}, whoever asks: give that user the right`,
  ],
  ["EROFS", "write", "not-permitted", "name a place where it has it"],
  ["EACCES", "read", "not-permitted", "all.jsonl cannot be read: a bad sector. It is read by the user"],
  ["ENOENT", "write", "out-of-range", "There is no folder /media/stick on the recorder's machine. Make it"],
  ["ENOENT", "read", "out-of-range", "There is no file /media/stick/all.jsonl on the recorder's machine."],
  ["ENOSPC", "write", "storage", "The disk of /media/stick is full."],
  ["EIO", "read", "storage", "/media/stick/all.jsonl could not be read: a bad sector."],
  [null, "write", "storage", "/media/stick/all.jsonl could not be written: a bad sector."],
] as const)("%s on %s: %s, %s", (code, doing, refusal, words) => {
  const { code: said_code, message, hint } = fileTrouble(code, "a bad sector", "/media/stick/all.jsonl", doing);
  expect(said_code).toBe(refusal);
  expect(`${message} ${hint ?? ""}`).toContain(words);
});
