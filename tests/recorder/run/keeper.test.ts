import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { afterEach, beforeEach, describe, expect, it, onTestFinished, vi } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { SetToKeep } from "../../../recorder/ports.ts";
import { Keeper } from "../../../recorder/run/keeper.ts";
import { forgetAside, putAside, setsAside } from "../../../recorder/run/put-aside.ts";
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
  const disk = { full: false, refuses: "", gone: false, full_beside: false };
  const unusable: string[] = [];
  const aside: string[] = [];
  const errors: string[] = [];
  const said: object[] = [];
  const alarm: StorageAlarm = new StorageAlarm({
    tell: (sentence) => told.push(sentence),
    waiting: () => keeper.unsaved,
  });
  const keeper: Keeper = new Keeper({
    store: {
      keep: async (set) => {
        tried.push(set.message.set_id);
        if (disk.gone) throw new StoreFailure("gone", "the file is gone");
        if (disk.full || set.message.station === disk.refuses) throw new StoreFailure("disk-full", FULL);
        if (set.log.at_us.length !== set.log.counts.length) throw new StoreFailure("unstorable", "no such log");
        return { ...set.message, set_seq: kept.length + 1 };
      },
    },
    kept: (message) => kept.push(message),
    putAside: async ({ message }) => {
      if (disk.full_beside) throw new Error("ENOSPC: no space left on device, write");
      aside.push(message.set_id);
      return "beside";
    },
    unusable: (why) => unusable.push(why),
    alarm,
    log: {
      error(fields: object, message: string) {
        said.push(fields);
        errors.push(message);
      },
    } as never,
  });
  return { keeper, alarm, told, kept, tried, disk, aside, errors, said, unusable };
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

  it("stopping tries once more at once, and puts aside what the store still does not take", async () => {
    const { keeper, kept, tried, disk, aside, errors } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await vi.advanceTimersByTimeAsync(0);
    disk.full = false;
    await keeper.stop();
    expect(ids(kept)).toEqual([id(1)]);
    disk.full = true;
    keeper.keep(toKeep(2));
    keeper.keep(toKeep(3));
    await keeper.stop();
    expect([tried.length, keeper.unsaved]).toEqual([3, 0]);
    expect(aside).toEqual([id(2), id(3)]);
    expect(errors).toEqual(Array(2).fill("A set could not be kept before the recorder went; it is in beside instead."));
  });

  it("and with no room beside it either: the log has which set, that its readings are lost, and what it came to", async () => {
    const { keeper, disk, errors, said } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await keeper.stop();
    disk.full_beside = true;
    keeper.keep(toKeep(2));
    await keeper.stop();
    expect(errors[1]).toBe(
      "A set could not be kept before the recorder went, nor put aside (ENOSPC: no space left on device, write): " +
        "its readings since the last checkpoint are lost, and what it came to is in this line alone.",
    );
    const failure = expect.objectContaining({ code: "disk-full" });
    const [station, set] = ["leg-press", toKeep(2).message];
    // Of one that is safe nothing that is about a person.
    expect(said).toEqual([
      { err: failure, station, set_id: id(1) },
      { err: failure, station, set_id: id(2), set },
    ]);
  });

  it("for good says so: only a start anew can help, and nothing is let go meanwhile", async () => {
    const { keeper, disk, unusable } = bench();
    disk.full = true;
    keeper.keep(toKeep(1));
    await vi.advanceTimersByTimeAsync(0);
    expect(unusable).toEqual([]);
    disk.gone = true;
    await vi.advanceTimersByTimeAsync(1000);
    expect(unusable).toEqual(["the file is gone"]);
    expect(keeper.unsaved).toBe(1);
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
    expect(errors).toEqual(["A set can never be kept in the store; it is in beside instead."]);
    expect([tried.length, keeper.unsaved, told]).toEqual([2, 0, []]);
  });
});

describe("beside the store", () => {
  const place = (): string => {
    const directory = mkdtempSync(join(tmpdir(), "tidemark-aside-"));
    onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
    return join(directory, "tidemark.db");
  };
  const columns = { arm: { arm_version: 1 }, at_us: [1, 2], counts: [3, -4], events: [{ before: 1, event: {} }] };
  const wide = { at_us: new Float64Array(columns.at_us), counts: new Float64Array(columns.counts) };

  it("a set is found again as it was put aside, in the order sets were begun, until it is kept", async () => {
    vi.useRealTimers();
    const path = place();
    for (const number of [2, 1]) {
      await putAside(path, { ...toKeep(number), setup: "seat=3", log: { ...columns, ...wide } });
    }
    const found = (number: number) => ({ message: toKeep(number).message, setup: "seat=3", log: columns });
    expect(await setsAside(path)).toEqual({ sets: [found(1), found(2)], unreadable: [] });
    await forgetAside(path, id(1));
    expect(await setsAside(path)).toEqual({ sets: [found(2)], unreadable: [] });
    await expect(forgetAside(path, id(9))).resolves.toBeUndefined();
  });

  it("a set that finds no room leaves nothing that takes some", async () => {
    vi.useRealTimers();
    const path = place();
    // In the way of the finished file, so that only the last step fails.
    mkdirSync(join(`${path}.unkept-${id(1)}.json`, "taken"), { recursive: true });
    await expect(putAside(path, toKeep(1))).rejects.toThrow();
    expect(readdirSync(dirname(path))).toEqual([`tidemark.db.unkept-${id(1)}.json`]);
  });

  it("a file that holds no set stays, and is told; other files are nobody's business", async () => {
    vi.useRealTimers();
    const path = place();
    const torn = `${path}.unkept-${id(1)}.json`;
    writeFileSync(torn, '{"message":{');
    writeFileSync(`${path}.unkept-${id(2)}.json.partial`, "{");
    writeFileSync(path, "");
    expect(await setsAside(path)).toEqual({ sets: [], unreadable: [torn] });
    expect(readFileSync(torn, "utf8")).toBe('{"message":{');
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
