import { existsSync, mkdtempSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { giveUpSpareRoom, takeSpareRoom } from "../../../recorder/run/spare-room.ts";

let folder: string;
let store_path: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "tidemark-spare-"));
  store_path = join(folder, "tidemark.db");
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const spare = (): string => `${store_path}.spare`;

test("real room, not a hole, taken once and given up once", async () => {
  await takeSpareRoom(store_path, 1e9);
  const { size, blocks, ino } = statSync(spare());
  expect(size).toBe(8 * 1024 * 1024);
  // stat(2): blocks of 512 bytes that are really there.
  expect(blocks * 512).toBeGreaterThanOrEqual(size);
  await takeSpareRoom(store_path, 1e9);
  expect(statSync(spare()).ino).toBe(ino);
  expect(await giveUpSpareRoom(store_path)).toBe(true);
  expect(existsSync(spare())).toBe(false);
  expect(await giveUpSpareRoom(store_path)).toBe(false);
});

test("an eighth of a small disk, nothing of a full one or one that does not say", async () => {
  await takeSpareRoom(store_path, 8e6);
  expect(statSync(spare()).size).toBeLessThanOrEqual(1e6);
  expect(statSync(spare()).size).toBeGreaterThan(0);
  await giveUpSpareRoom(store_path);
  for (const nothing of [0, 1e6, null]) {
    await takeSpareRoom(store_path, nothing);
    expect(existsSync(spare())).toBe(false);
  }
});

test("a folder that is not there is no fault", async () => {
  await takeSpareRoom(join(folder, "gone", "tidemark.db"), 1e9);
  expect(await giveUpSpareRoom(join(folder, "gone", "tidemark.db"))).toBe(false);
});
