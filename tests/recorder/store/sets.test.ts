import { beforeEach, describe, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { setSchema } from "../../../protocol/messages/set.ts";
import type { HistoryQuery, SetsQuery } from "../../../recorder/ports.ts";
import { openTables, type StoreMethods, type Tables } from "../../../recorder/store/tables.ts";
import { instantAt, inventedLog, inventedSet, plainLog, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

let tables: Tables;
let store: StoreMethods;

beforeEach(() => {
  tables = openTables(storePath());
  store = tables.methods;
  return () => store.close();
});

const keep = (number: number, over: Partial<SetMessage> = {}, setup?: string): SetMessage =>
  store.keep(toKeep(inventedSet(number, over), setup, inventedLog(number)));
const numbersOf = (sets: readonly SetMessage[]): number[] => sets.map((set) => set.set_seq);

describe("keeping", () => {
  test("gives the number and the store, in their places, and nothing else changes", () => {
    const given = inventedSet(1, { note: 'quotes " and größe and \ud800', efforts: [] });
    const kept = store.keep(toKeep(given));
    expect(kept).toEqual({ ...given, store: tables.store_id, set_seq: 1 });
    expect(Object.keys(kept)).toEqual(Object.keys(given));
    expect(setSchema.parse(kept)).toEqual(kept);
  });

  test("puts the very text that is kept in the outbox", () => {
    const kept = keep(1);
    const [row] = store.outbox(10);
    expect(row).toEqual({
      row: 1,
      station: "leg-press",
      topic: "tidemark/north-hall/station/leg-press/set",
      payload: JSON.stringify(kept),
    });
    expect(tables.database.get("SELECT message FROM change_log")).toEqual({ message: row?.payload });
  });

  test("keeps the log with the set", () => {
    keep(42);
    const found = store.set(uuidOf(42));
    expect(found === null ? null : plainLog(found.log)).toEqual(inventedLog(42));
    expect(store.set(uuidOf(43))).toBeNull();
  });

  test("twice is once, and answers with the first", () => {
    const first = keep(1);
    const again = store.keep(toKeep(inventedSet(1, { note: "again" }), "", inventedLog(9)));
    expect(again).toEqual(first);
    expect(keep(2).set_seq).toBe(2);
    expect(store.outboxSize()).toBe(2);
    expect(plainLog(store.set(uuidOf(1))!.log)).toEqual(inventedLog(1));
  });

  test("a revision gets a number of its own and takes the former's place; the log stays", () => {
    keep(1);
    keep(2);
    const amended = store.keep(toKeep(inventedSet(1, { revision: 2, void: true }), "", inventedLog(77)));
    expect(amended.set_seq).toBe(3);
    expect(store.sets({}).sets).toEqual([store.set(uuidOf(2))?.message, amended]);
    expect(plainLog(store.set(uuidOf(1))!.log)).toEqual(inventedLog(1));
    expect(store.latest("leg-press")?.set_id).toBe(uuidOf(2));
    expect(store.outboxSize()).toBe(3);
  });

  test("a lower revision that comes late is written down, but does not win", () => {
    keep(1, { revision: 3 });
    keep(1, { revision: 2 });
    expect(store.set(uuidOf(1))?.message.revision).toBe(3);
    expect(store.sets({})).toMatchObject({ first_set_seq: 1, last_set_seq: 2 });
    expect(numbersOf(store.sets({}).sets)).toEqual([1]);
  });

  test("is whole or not at all", () => {
    keep(1);
    store.checkpoint([{ set_id: uuidOf(2), station: "leg-press", part: 0, log: inventedLog(2) }]);
    tables.database.exec("CREATE TRIGGER refuse BEFORE INSERT ON outbox BEGIN SELECT RAISE(ABORT, 'not today'); END");
    expect(() => keep(2)).toThrow(
      expect.objectContaining({ code: "unstorable", message: expect.stringContaining("not today") }),
    );
    expect(store.set(uuidOf(2))).toBeNull();
    expect(store.unfinished().map((set) => set.set_id)).toEqual([uuidOf(2)]);
    tables.database.exec("DROP TRIGGER refuse");
    expect(keep(2).set_seq).toBe(2);
    expect(store.unfinished()).toEqual([]);
  });

  test("never uses a number twice, even after rows are gone", () => {
    keep(1);
    keep(2);
    tables.database.exec("DELETE FROM kept_set; DELETE FROM set_log; DELETE FROM change_log; DELETE FROM outbox");
    expect(keep(3).set_seq).toBe(3);
    expect(store.outbox(1)[0]?.row).toBe(3);
  });

  test("a broken log is refused before anything is written", () => {
    const broken = { ...inventedLog(1), counts: [0.5] };
    expect(() => store.keep(toKeep(inventedSet(1), "", broken))).toThrow(
      expect.objectContaining({ code: "unstorable" }),
    );
    expect(store.outboxSize()).toBe(0);
  });
});

describe("sets", () => {
  test("of an empty store are none", () => {
    expect(store.sets({})).toEqual({
      store: tables.store_id,
      first_set_seq: null,
      last_set_seq: null,
      more: false,
      sets: [],
    });
    expect(store.latest("leg-press")).toBeNull();
  });

  test("come oldest first: the newest of them, or from a number on", () => {
    for (let number = 1; number <= 10; number++) keep(number);
    expect(numbersOf(store.sets({}).sets)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
    expect(numbersOf(store.sets({ limit: 3 }).sets)).toEqual([8, 9, 10]);
    expect(numbersOf(store.sets({ from_set_seq: 4, limit: 3 }).sets)).toEqual([4, 5, 6]);
    expect(numbersOf(store.sets({ from_set_seq: 0, limit: 2 }).sets)).toEqual([1, 2]);
    expect(store.sets({ from_set_seq: 11 })).toMatchObject({ first_set_seq: 1, last_set_seq: 10, sets: [] });
  });

  test("come with word of whether others fit, earlier ones or, from a number on, later ones", () => {
    for (let number = 1; number <= 5; number++) keep(number, { station: number === 1 ? "row" : "leg-press" });
    const asked = (query: SetsQuery): [number[], boolean] => {
      const { sets, more } = store.sets(query);
      return [numbersOf(sets), more];
    };
    expect(asked({ limit: 3 })).toEqual([[3, 4, 5], true]);
    expect(asked({ limit: 3, before_set_seq: 3 })).toEqual([[1, 2], false]);
    expect(asked({ limit: 3, before_set_seq: 3, station: "leg-press" })).toEqual([[2], false]);
    expect(asked({ limit: 2, before_set_seq: 3 })).toEqual([[1, 2], false]);
    expect(asked({ limit: 3, from_set_seq: 2 })).toEqual([[2, 3, 4], true]);
    expect(asked({ limit: 3, from_set_seq: 3 })).toEqual([[3, 4, 5], false]);
    expect(asked({ from_set_seq: 2, before_set_seq: 4 })).toEqual([[2, 3], false]);
    expect(asked({ before_set_seq: 1 })).toEqual([[], false]);
  });

  test("a page ends at 512 KiB, and paging by number passes over nothing", () => {
    const note = "\u00e9".repeat(50_000);
    for (let number = 1; number <= 12; number++) keep(number, { note });
    const bytes = (page: { sets: readonly object[] }): number =>
      page.sets.reduce((sum, set) => sum + Buffer.byteLength(JSON.stringify(set)), 0);
    const seen: number[] = [];
    for (let from = 1; ; ) {
      const page = store.sets({ from_set_seq: from });
      if (page.sets.length === 0) break;
      expect(bytes(page)).toBeLessThanOrEqual(512 * 1024);
      seen.push(...numbersOf(page.sets));
      from = page.sets.at(-1)!.set_seq + 1;
    }
    expect(seen).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]);
    expect(numbersOf(store.sets({}).sets)).toEqual([8, 9, 10, 11, 12]);
    expect(store.sets({}).more).toBe(true);
  });

  test("a set over a page's size is a page of its own", () => {
    keep(1, { note: "x".repeat(600_000) });
    keep(2);
    expect(numbersOf(store.sets({ from_set_seq: 1 }).sets)).toEqual([1]);
    expect(numbersOf(store.sets({}).sets)).toEqual([2]);
    expect(store.sets({ before_set_seq: 2 })).toMatchObject({ more: false, sets: [{ set_seq: 1 }] });
  });

  test("paging by number reaches every set once, also when one is amended meanwhile", () => {
    for (let number = 1; number <= 7; number++) keep(number);
    const seen: string[] = [];
    for (let from = 1; ; ) {
      const page = store.sets({ from_set_seq: from, limit: 2 });
      if (page.sets.length === 0) break;
      seen.push(...page.sets.map((set) => `${set.set_id} ${set.revision}`));
      from = page.sets.at(-1)!.set_seq + 1;
      if (from === 3) keep(5, { revision: 2 });
    }
    expect(seen).toEqual([1, 2, 3, 4, 6, 7, 5].map((number) => `${uuidOf(number)} ${number === 5 ? 2 : 1}`));
  });

  test("are chosen by station, trainee and start", () => {
    keep(1);
    keep(2, { station: "row" });
    keep(3, { trainee: "t-02" });
    keep(4, { station: "row", trainee: "t-02" });
    keep(5, { trainee: null });
    expect(numbersOf(store.sets({ station: "row" }).sets)).toEqual([2, 4]);
    expect(numbersOf(store.sets({ trainee: "t-02" }).sets)).toEqual([3, 4]);
    expect(numbersOf(store.sets({ station: "row", trainee: "t-02", limit: 5 }).sets)).toEqual([4]);
    expect(numbersOf(store.sets({ from: instantAt(2), to: instantAt(4) }).sets)).toEqual([2, 3]);
    expect(numbersOf(store.sets({ from: "2026-11-24T10:03:00+01:00", station: "leg-press" }).sets)).toEqual([3, 5]);
    expect(numbersOf(store.sets({ from: instantAt(2), from_set_seq: 4, limit: 1 }).sets)).toEqual([4]);
  });

  test("are chosen by side, style and exercise, alone and with what else is asked", () => {
    keep(1);
    keep(2, { side: "right" });
    keep(3, { side: null, style: "continuous" });
    keep(4, { exercise: "calf-raise", trainee: "t-02" });
    keep(5, { exercise: "calf-raise", side: "right" });
    const asked = (query: SetsQuery): number[] => numbersOf(store.sets(query).sets);
    expect(asked({ side: "left" })).toEqual([1, 4]);
    expect(asked({ style: "continuous" })).toEqual([3]);
    expect(asked({ exercise: "calf-raise" })).toEqual([4, 5]);
    expect(asked({ exercise: "calf-raise", side: "right", style: "hold" })).toEqual([5]);
    expect(asked({ trainee: "t-02", side: "right" })).toEqual([]);
    expect(asked({ side: "right", from: instantAt(3) })).toEqual([5]);
    expect(asked({ style: "hold", from: instantAt(2), to: instantAt(5) })).toEqual([2, 4]);
    expect(asked({ style: "hold", from: instantAt(2), to: instantAt(5), trainee: "t-02" })).toEqual([4]);
    expect(asked({ style: "hold", from_set_seq: 2, limit: 2 })).toEqual([2, 4]);
    expect(store.sets({ style: "hold", from_set_seq: 2, limit: 2 }).more).toBe(true);
  });

  test("an amended set is chosen by what it is now", () => {
    keep(1);
    keep(1, { revision: 2, side: "right" });
    expect(numbersOf(store.sets({ side: "left" }).sets)).toEqual([]);
    expect(numbersOf(store.sets({ side: "right" }).sets)).toEqual([2]);
  });

  test("latest is the set kept last, whatever a clock said", () => {
    keep(1, { at: "2026-11-24T10:00:00.000Z" });
    keep(2, { at: "1970-01-01T00:01:00.000Z", started_at: "1970-01-01T00:00:10.000Z" });
    keep(3, { station: "row" });
    expect(store.latest("leg-press")?.set_seq).toBe(2);
  });
});

describe("history", () => {
  const query = (over: Partial<HistoryQuery> = {}): HistoryQuery => ({
    station: "leg-press",
    trainee: "t-01",
    exercise: "leg-press",
    side: "left",
    style: "hold",
    intent: "maximal",
    setup: "seat=3",
    resting_subtracted: false,
    day_starts_at: instantAt(0),
    now: instantAt(600),
    ...over,
  });
  const nothing = {
    comparable: null,
    today_best_force_N: null,
    sets_here: 0,
    eccentric_sets_here: 0,
    set_of_day: 1,
    last_set_ended_at: null,
  };

  test("of a newcomer, and of nobody named, is empty", () => {
    keep(1, { trainee: null });
    expect(store.history(query())).toEqual(nothing);
    expect(store.history(query({ trainee: null }))).toEqual({ ...nothing, set_of_day: null });
  });

  test("finds the newest comparable set, counts and the best of today", () => {
    keep(1, { best_force_N: 1500 });
    const comparable = keep(2, { best_force_N: 900 });
    keep(3, { style: "eccentric-only", best_force_N: 3000 });
    keep(4, { station: "row" });
    expect(store.history(query())).toEqual({
      comparable,
      today_best_force_N: 1500,
      sets_here: 3,
      eccentric_sets_here: 1,
      set_of_day: 4,
      last_set_ended_at: instantAt(5),
    });
  });

  test.each<[string, Partial<SetMessage>, string]>([
    ["another trainee", { trainee: "t-02" }, "seat=3"],
    ["another station", { station: "row" }, "seat=3"],
    ["another exercise", { exercise: "calf-raise" }, "seat=3"],
    ["the other side", { side: "right" }, "seat=3"],
    ["no side", { side: null }, "seat=3"],
    ["another style", { style: "continuous" }, "seat=3"],
    ["another intent", { intent: "held" }, "seat=3"],
    ["another setup", {}, "seat=4"],
    ["resting force subtracted", { resting_subtracted: true }, "seat=3"],
    ["a warm-up", { warm_up: true }, "seat=3"],
    ["void", { void: true }, "seat=3"],
    ["cut short", { cut_short: true, stop_reason: "sensor-fault" }, "seat=3"],
  ])("does not compare with %s", (_what, over, setup) => {
    keep(1, over, setup);
    expect(store.history(query())).toMatchObject({ comparable: null, today_best_force_N: null });
  });

  test("compares sets without a side with each other", () => {
    const kept = keep(1, { side: null });
    expect(store.history(query({ side: null })).comparable).toEqual(kept);
  });

  test("goes by the highest revision: a void set, or one that was somebody else's, no longer counts", () => {
    keep(1);
    keep(2);
    keep(2, { revision: 2, void: true });
    keep(3);
    keep(3, { revision: 2, trainee: "t-02" });
    expect(store.history(query())).toMatchObject({ comparable: { set_id: uuidOf(1) }, sets_here: 2, set_of_day: 2 });
    expect(store.history(query({ trainee: "t-02" }))).toMatchObject({ sets_here: 1, set_of_day: 2 });
  });

  test("today is from the day's start to now; warm-ups and void sets are no sets of the day, cut short ones are", () => {
    keep(-1);
    keep(0);
    keep(1, { warm_up: true });
    keep(2, { void: true });
    keep(3, { cut_short: true });
    keep(4, { started_at: "2031-01-01T00:00:00.000Z", best_force_N: 9000 });
    expect(store.history(query())).toMatchObject({ set_of_day: 3, today_best_force_N: 1000, sets_here: 6 });
  });

  test("a set without a best does not hide the others'", () => {
    keep(1, { best_force_N: 700 });
    keep(2, { best_force_N: null });
    expect(store.history(query()).today_best_force_N).toBe(700);
  });
});

test("no question reads through the sets, whatever is asked", () => {
  keep(1);
  const one = { trainee: "t-01", station: "leg-press" };
  for (const from_set_seq of [undefined, 1]) {
    for (const who of [{}, one, { trainee: "t-01" }, { station: "leg-press" }]) {
      store.sets({ ...who, from_set_seq, limit: 10 });
      store.sets({ ...who, from_set_seq, limit: 10, from: instantAt(0) });
      store.sets({ ...who, from_set_seq, limit: 10, from: instantAt(0), to: instantAt(1) });
      store.sets({ ...who, from_set_seq, limit: 10, side: "left", style: "hold", exercise: "x" });
      store.sets({ ...who, from_set_seq, limit: 10, from: instantAt(0), to: instantAt(1), side: "left" });
    }
  }
  store.set(uuidOf(1));
  store.latest("leg-press");
  const compared = {
    exercise: "x",
    side: null,
    style: "hold",
    intent: "maximal",
    setup: "",
    resting_subtracted: false,
  };
  store.history({ ...one, ...compared, day_starts_at: instantAt(0), now: instantAt(1) } as HistoryQuery);
  store.checkpoint([{ set_id: uuidOf(2), station: "leg-press", part: 0, log: inventedLog(2) }]);
  const questions = tables.database.texts.filter((text) => /\b(kept_set|change_log|set_log)\b/.test(text));
  expect(questions.length).toBeGreaterThan(12);
  for (const text of questions) {
    const plan = tables.database.all<{ detail: string }>(`EXPLAIN QUERY PLAN ${text}`).map((row) => row.detail);
    // A scan along an index in the order asked for ends at its limit, and a page is no longer than its limit. Any other scan
    // reads everything, and so does a sort, but for a short stretch of time.
    const along = text.includes("LIMIT") ? /^SCAN (kept_set USING (COVERING )?INDEX|page$)/ : /^SCAN CONSTANT ROW/;
    const sorts = plan.some((step) => /^SEARCH kept_set USING (COVERING )?INDEX kept_set_by_start/.test(step));
    const slow = plan.filter(
      (step) => (/^SCAN/.test(step) && !along.test(step)) || (/TEMP B-TREE/.test(step) && !sorts),
    );
    expect({ text, slow }).toEqual({ text, slow: [] });
  }
});
