import { afterEach, beforeEach, expect, it, vi } from "vitest";
import { StandingWrites } from "../../../recorder/run/standing-writes.ts";
import { StorageAlarm } from "../../../recorder/run/storage-alarm.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";

beforeEach(() => vi.useFakeTimers());
afterEach(() => vi.useRealTimers());

function bench() {
  const told: (string | null)[] = [];
  const written: string[] = [];
  const errors: string[] = [];
  const disk = { full: false };
  const alarm: StorageAlarm = new StorageAlarm({
    tell: (sentence) => told.push(sentence),
    waiting: () => writes.unwritten,
  });
  const writes: StandingWrites = new StandingWrites({
    alarm,
    log: { error: (_fields: object, message: string) => errors.push(message) } as never,
  });
  const put = (what: string, value: string): void =>
    writes.write(what, async () => {
      if (value === "poison") throw new StoreFailure("unstorable", "no such value");
      if (disk.full) throw new StoreFailure("read-only", "the file cannot be written");
      written.push(value);
    });
  return { told, written, errors, disk, alarm, writes, put };
}

it("what cannot be written is written again until it is, of each thing only the newest", async () => {
  const { told, written, errors, disk, writes, put } = bench();
  disk.full = true;
  put("The zero", "first");
  put("The latch", "on");
  await vi.advanceTimersByTimeAsync(300_000);
  put("The zero", "second");
  await vi.advanceTimersByTimeAsync(0);
  expect([written, writes.unwritten]).toEqual([[], 2]);
  // Said once in the log, however often it is tried.
  expect(errors).toEqual(["The zero could not be kept", "The latch could not be kept"]);
  expect(told.at(-1)).toBe("The zero could not be kept: the file cannot be written");
  disk.full = false;
  await vi.advanceTimersByTimeAsync(60_000);
  expect([written.sort(), writes.unwritten]).toEqual([["on", "second"], 0]);
  expect(told.filter((sentence) => sentence === null)).toHaveLength(1);
  expect(told.at(-1)).toBeNull();
});

it("the alarm stands while anything is unwritten, whatever else works", async () => {
  const { told, disk, alarm, put } = bench();
  disk.full = true;
  put("The zero", "first");
  await vi.advanceTimersByTimeAsync(0);
  alarm.worked();
  expect(told).toEqual(["The zero could not be kept: the file cannot be written"]);
});

it("a newer one is tried at once, and one that comes while the older is being written follows it", async () => {
  const { written, disk, put } = bench();
  disk.full = true;
  put("The zero", "first");
  await vi.advanceTimersByTimeAsync(100_000);
  disk.full = false;
  put("The zero", "second");
  await vi.advanceTimersByTimeAsync(0);
  expect(written).toEqual(["second"]);
  put("The zero", "third");
  put("The zero", "fourth");
  await vi.advanceTimersByTimeAsync(0);
  expect(written).toEqual(["second", "third", "fourth"]);
});

it("what can never be written is said and given up", async () => {
  const { told, written, errors, writes, put } = bench();
  put("The zero", "poison");
  await vi.advanceTimersByTimeAsync(0);
  expect([written, writes.unwritten, told]).toEqual([[], 0, []]);
  expect(errors).toEqual(["The zero could not be kept"]);
});

it("stopping tries once more and leaves nothing alive", async () => {
  const { written, disk, writes, put } = bench();
  disk.full = true;
  put("The zero", "first");
  put("The latch", "on");
  await vi.advanceTimersByTimeAsync(0);
  await writes.stop();
  expect(vi.getTimerCount()).toBe(0);
  disk.full = false;
  put("Another", "late");
  await writes.stop();
  expect(written).toEqual(["late"]);
});
