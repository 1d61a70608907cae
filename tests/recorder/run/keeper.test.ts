import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it, onTestFinished, vi } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { SetToKeep } from "../../../recorder/ports.ts";
import { Keeper } from "../../../recorder/run/keeper.ts";
import { putAside } from "../../../recorder/run/put-aside.ts";
import { StorageAlarm } from "../../../recorder/run/storage-alarm.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { inventedSet } from "../store/invented.ts";

beforeEach(() => vi.useFakeTimers());
afterEach(() => vi.useRealTimers());

const FULL = "the disk is full; make space on it";

function bench() {
  const told: (string | null)[] = [];
  const kept: SetMessage[] = [];
  const tried: string[] = [];
  const disk = { full: false, refuses: "" };
  const aside: string[] = [];
  const errors: string[] = [];
  const alarm: StorageAlarm = new StorageAlarm({
    tell: (sentence) => told.push(sentence),
    waiting: () => keeper.unsaved,
  });
  const keeper: Keeper = new Keeper({
    store: {
      keep: async (set) => {
        tried.push(set.message.set_id);
        if (disk.full || set.message.station === disk.refuses) throw new StoreFailure("disk-full", FULL);
        if (set.log.at_us.length !== set.log.counts.length) throw new StoreFailure("unstorable", "no such log");
        return { ...set.message, set_seq: kept.length + 1 };
      },
    },
    kept: (message) => kept.push(message),
    putAside: async ({ message }) => {
      aside.push(message.set_id);
      return "beside";
    },
    alarm,
    log: { error: (_fields: object, message: string) => errors.push(message) } as never,
  });
  return { keeper, alarm, told, kept, tried, disk, aside, errors };
}

const toKeep = (number: number, station = "leg-press"): SetToKeep => ({
  message: inventedSet(number, { station }),
  log: { arm: null, at_us: [], counts: [], events: [] },
  setup: "",
  topic: "tidemark/hall/station/leg-press/set",
});
const ids = (sets: readonly SetMessage[]): string[] => sets.map(({ set_id }) => set_id);
const id = (number: number): string => toKeep(number).message.set_id;

describe("a store that takes sets", () => {
  it("gets them one after the other, in the order they ended", async () => {
    const { keeper, kept, told } = bench();
    for (const number of [1, 2, 3]) keeper.keep(toKeep(number));
    expect(keeper.unsaved).toBe(3);
    await vi.advanceTimersByTimeAsync(0);
    expect(ids(kept)).toEqual([id(1), id(2), id(3)]);
    expect(keeper.unsaved).toBe(0);
    expect(told).toEqual([]);
  });
});

describe("a store that fails", () => {
  it("keeps nobody waiting and loses nothing: held in memory, said, tried again, kept in order", async () => {
    const { keeper, kept, told, disk } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await vi.advanceTimersByTimeAsync(0);
    keeper.keep(toKeep(2));
    expect(keeper.unsaved).toBe(2);
    expect(told[0]).toMatch(/^1 finished set waits in memory: the disk is full/);
    await vi.advanceTimersByTimeAsync(1000);
    expect(told.at(-1)).toMatch(/^2 finished sets wait in memory: the disk is full/);
    disk.full = false;
    await vi.advanceTimersByTimeAsync(2000);
    expect(ids(kept)).toEqual([id(1), id(2)]);
    expect(told.at(-1)).toBeNull();
    // Lifted only when nothing waits any more.
    expect(told.filter((sentence) => sentence === null)).toHaveLength(1);
  });

  it("is tried less and less often, up to once a minute, for ever", async () => {
    const { keeper, tried, disk } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    const tries: number[] = [];
    for (let s = 0; s < 400; s++) {
      const before = tried.length;
      await vi.advanceTimersByTimeAsync(1000);
      if (tried.length > before) tries.push(s);
    }
    const gaps = tries.slice(1).map((s, index) => s - (tries[index] ?? 0));
    expect(gaps.slice(0, 6)).toEqual([2, 4, 8, 16, 32, 60]);
    expect(Math.max(...gaps)).toBe(60);
  });

  it("that works again is tried as soon as at first when it fails another time", async () => {
    const { keeper, tried, kept, disk } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await vi.advanceTimersByTimeAsync(20_000);
    disk.full = false;
    await vi.advanceTimersByTimeAsync(20_000);
    expect(kept).toHaveLength(1);
    disk.full = true;
    keeper.keep(toKeep(2));
    await vi.advanceTimersByTimeAsync(0);
    const before = tried.length;
    await vi.advanceTimersByTimeAsync(1001);
    expect(tried.length).toBe(before + 1);
  });

  it("stopping tries once more at once, and then lets go", async () => {
    const { keeper, kept, tried, disk } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await vi.advanceTimersByTimeAsync(0);
    disk.full = false;
    await keeper.stop();
    expect(ids(kept)).toEqual([id(1)]);
    disk.full = true;
    keeper.keep(toKeep(2));
    keeper.keep(toKeep(3));
    const before = tried.length;
    await keeper.stop();
    expect(tried.length).toBe(before + 0);
    expect(keeper.unsaved).toBe(2);
  });

  it("stopping with nothing to keep ends at once", async () => {
    await expect(bench().keeper.stop()).resolves.toBeUndefined();
  });
});

describe("a set that cannot be kept", () => {
  it("for the disk's sake holds up its own station and no other", async () => {
    const { keeper, kept, told, disk } = bench();
    disk.refuses = "leg-press";
    keeper.keep(toKeep(1));
    keeper.keep(toKeep(2));
    keeper.keep(toKeep(3, "row"));
    await vi.advanceTimersByTimeAsync(0);
    expect(ids(kept)).toEqual([id(3)]);
    expect(told.at(-1)).toMatch(/the disk is full/);
    disk.refuses = "";
    await vi.advanceTimersByTimeAsync(1000);
    expect(ids(kept)).toEqual([id(3), id(1), id(2)]);
    expect(told.at(-1)).toBeNull();
  });

  it("for its own sake is put aside and said, not tried for ever, and the next one is kept", async () => {
    const { keeper, kept, told, tried, aside, errors } = bench();
    const poison = toKeep(1);
    keeper.keep({ ...poison, log: { ...poison.log, at_us: [1] } });
    keeper.keep(toKeep(2));
    await vi.advanceTimersByTimeAsync(0);
    expect(ids(kept)).toEqual([id(2)]);
    expect(aside).toEqual([id(1)]);
    expect(errors).toEqual(["A set can never be kept in the store; it is in beside instead"]);
    expect([tried.length, keeper.unsaved, told]).toEqual([2, 0, []]);
  });
});

it("a set put aside is whole, as JSON beside the store", async () => {
  vi.useRealTimers();
  const directory = mkdtempSync(join(tmpdir(), "tidemark-aside-"));
  onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
  const set = { ...toKeep(1), log: { arm: null, at_us: new Float64Array([1, 2]), counts: [3], events: [] } };
  const path = await putAside(join(directory, "tidemark.db"), set);
  expect(JSON.parse(readFileSync(path, "utf8"))).toEqual({
    message: set.message,
    log: { arm: null, at_us: [1, 2], counts: [3], events: [] },
  });
});

describe("the alarm", () => {
  it("raised by any failed writing is lifted by the next that works, once", () => {
    const { alarm, told } = bench();
    alarm.worked();
    alarm.failed("The zero could not be kept: the disk is full");
    alarm.worked();
    alarm.worked();
    expect(told).toEqual(["The zero could not be kept: the disk is full", null]);
  });

  it("stands while finished sets wait, whatever else can be written", async () => {
    const { keeper, alarm, told, disk } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await vi.advanceTimersByTimeAsync(0);
    alarm.worked();
    expect(told.at(-1)).not.toBeNull();
  });
});
