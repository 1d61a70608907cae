import fc from "fast-check";
import { beforeEach, describe, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { Before, BeforeQuery } from "../../../recorder/ports.ts";
import { openTables, type StoreMethods, type Tables } from "../../../recorder/store/tables.ts";
import { instantAt, inventedLog, inventedSet, plainLog, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

const TOPIC = "tidemark/north-hall/station/leg-press/set";

let tables: Tables;
let store: StoreMethods;
beforeEach(() => {
  tables = openTables(storePath());
  store = tables.methods;
  return () => store.close();
});

const keep = (number: number, over: Partial<SetMessage> = {}, setup = "seat=3"): SetMessage =>
  store.keep(toKeep(inventedSet(number, over), setup, inventedLog(number)));

const revise = (number: number, changes: Partial<SetMessage>, performed_by: string | null = null) =>
  store.revise({ set_id: uuidOf(number), changes, performed_by, revised_at: instantAt(600), topic: TOPIC });

describe("revising a kept set", () => {
  test("is the next revision with a number and an announcement of its own, and nothing else of it differs", () => {
    const kept = keep(1);
    keep(2);
    const revised = revise(1, { void: true, pain: 3 });
    expect(revised).toEqual({ ...kept, void: true, pain: 3, revision: 2, set_seq: 3 });
    expect(Object.keys(revised ?? {})).toEqual(Object.keys(kept));
    expect(store.outbox(10).at(-1)).toMatchObject({ topic: TOPIC, payload: JSON.stringify(revised) });
    expect(store.outboxSize()).toBe(3);
    expect(store.set(uuidOf(1))?.message).toEqual(revised);
    expect(plainLog(store.set(uuidOf(1))!.log)).toEqual(inventedLog(1));
    expect(store.latest("leg-press")?.set_id).toBe(uuidOf(2));
  });

  test("writes down who says so, when, and whose it was in each revision", () => {
    keep(1);
    revise(1, { trainee: "t-02" }, "P-01");
    revise(1, { trainee: null });
    expect(tables.database.all("SELECT revision, trainee, performed_by, revised_at FROM change_log")).toEqual([
      { revision: 1, trainee: "t-01", performed_by: null, revised_at: null },
      { revision: 2, trainee: "t-02", performed_by: "P-01", revised_at: instantAt(600) },
      { revision: 3, trainee: null, performed_by: null, revised_at: instantAt(600) },
    ]);
  });

  test("to what it is already writes nothing", () => {
    const kept = keep(1);
    expect(revise(1, { void: false, note: null, options: { ...kept.options } })).toEqual(kept);
    expect(revise(1, {})).toEqual(kept);
    expect(store.outboxSize()).toBe(1);
    expect(store.sets({}).last_set_seq).toBe(1);
  });

  test("cannot move it to another station, store or number", () => {
    const kept = keep(1);
    const stolen = { set_id: uuidOf(9), store: uuidOf(9), station: "row", set_seq: 99, revision: 99 };
    expect(revise(1, stolen)).toEqual(kept);
    expect(revise(1, { ...stolen, note: "x" })).toEqual({ ...kept, note: "x", revision: 2, set_seq: 2 });
  });

  test("of a set that is not kept is null and writes nothing", () => {
    expect(revise(1, { void: true })).toBeNull();
    expect(store.outboxSize()).toBe(0);
  });

  test("keeps the setup it was kept with", () => {
    keep(1, {}, "seat=9");
    const revised = revise(1, { note: "x" })!;
    const query = { ...revised, setup: "seat=9", day_starts_at: instantAt(0), now: instantAt(9) };
    expect(store.history(query).comparable).toEqual(revised);
  });

  test("leaves comparisons, and comes back to them, at once", () => {
    keep(1);
    keep(2);
    const best_N = (): unknown =>
      store.history({ ...inventedSet(3), setup: "seat=3", day_starts_at: instantAt(0), now: instantAt(9) })
        .today_best_force_N;
    expect(best_N()).toBe(1002);
    revise(2, { void: true });
    expect(best_N()).toBe(1001);
    revise(2, { void: false });
    expect(best_N()).toBe(1002);
  });
});

describe("what the record held when a set began", () => {
  const heldBefore = (number: number, over: Partial<BeforeQuery> = {}): Before | null =>
    store.before({ set_id: uuidOf(number), trainee: "t-01", side: "left", day_starts_at: instantAt(0), ...over });

  test("is what was kept before it, and nothing after", () => {
    for (const number of [1, 3, 5, 7]) keep(number);
    expect(heldBefore(5)).toEqual({ today_best_force_N: 1003, set_of_day: 3, last_set_ended_at: instantAt(4) });
    expect(heldBefore(1)).toEqual({ today_best_force_N: null, set_of_day: 1, last_set_ended_at: null });
    expect(heldBefore(9)).toBeNull();
  });

  test("is another trainee's, or another side's, where that is asked", () => {
    keep(1, { trainee: "t-02", side: "right" });
    keep(3);
    keep(5);
    expect(heldBefore(5, { trainee: "t-02" })).toEqual({
      today_best_force_N: null,
      set_of_day: 2,
      last_set_ended_at: instantAt(2),
    });
    expect(heldBefore(5, { trainee: "t-02", side: "right" })?.today_best_force_N).toBe(1001);
    expect(heldBefore(5, { side: null })?.today_best_force_N).toBeNull();
  });

  test("compares by setup, goes by the day, and does not count what is void or a warm-up", () => {
    keep(-1, { best_force_N: 5000 });
    keep(1, { best_force_N: 3000 }, "seat=4");
    keep(3, { best_force_N: 4000, void: true });
    keep(5, { best_force_N: 2000, warm_up: true });
    keep(7);
    keep(9);
    expect(heldBefore(9)).toEqual({ today_best_force_N: 1007, set_of_day: 3, last_set_ended_at: instantAt(8) });
  });

  test("does not take a set that ended while this one ran for one before it", () => {
    keep(1);
    keep(4, { station: "row", started_at: instantAt(3), at: instantAt(6) });
    keep(5, { started_at: instantAt(5) });
    expect(heldBefore(5)?.last_set_ended_at).toBe(instantAt(2));
  });
});

describe("tags", () => {
  const link = (tag: string, trainee: string | null) =>
    store.saveTag({ tag, trainee, linked_at: instantAt(1), performed_by: "P-01" });

  test("are linked, linked anew and unlinked, and listed by code", () => {
    link("b/2", "t-01");
    link("a.1", "t-01");
    link("b/2", "t-02");
    expect(store.tags().map(({ tag, trainee }) => [tag, trainee])).toEqual([
      ["a.1", "t-01"],
      ["b/2", "t-02"],
    ]);
    expect(store.tag("b/2")).toEqual({ tag: "b/2", trainee: "t-02", linked_at: instantAt(1), performed_by: "P-01" });
    link("b/2", null);
    link("never", null);
    expect(store.tag("b/2")).toBeNull();
    expect(store.tags()).toHaveLength(1);
  });

  test("and every revision are found by trainee without reading through the rest", () => {
    for (const table of ["tag", "change_log"]) {
      const plan = tables.database.all<{ detail: string }>(
        `EXPLAIN QUERY PLAN SELECT rowid FROM ${table} WHERE trainee = 't-01'`,
      );
      expect(plan.map(({ detail }) => detail).join()).toMatch(/^SEARCH .*USING .*INDEX/);
    }
  });
});

type Act =
  | { readonly do: "keep"; readonly number: number; readonly station: string }
  | { readonly do: "revise"; readonly number: number; readonly changes: Partial<SetMessage> };

const NUMBERS = fc.integer({ min: 1, max: 6 });
const CHANGES = fc.record(
  {
    void: fc.boolean(),
    pain: fc.option(fc.integer({ min: 0, max: 10 })),
    trainee: fc.constantFrom("t-01", "t-02", null),
    note: fc.constantFrom("a", null),
  },
  { requiredKeys: [] },
);
const ACTS: fc.Arbitrary<Act[]> = fc.array(
  fc.oneof(
    fc.record({
      do: fc.constant("keep" as const),
      number: NUMBERS,
      station: fc.constantFrom("leg-press", "row"),
    }),
    fc.record({ do: fc.constant("revise" as const), number: NUMBERS, changes: CHANGES }),
  ),
  { maxLength: 25 },
);

test("keeps and revisions in any order: numbers without a hole, the highest revision everywhere, announced in order", () => {
  fc.assert(
    fc.property(ACTS, (acts) => {
      const { methods, database } = openTables(storePath());
      /** What must be, by the plainest rules: each set's revisions, and what was announced. */
      const model = new Map<number, SetMessage>();
      const announced: SetMessage[] = [];
      for (const act of acts) {
        const known = model.get(act.number);
        if (act.do === "keep") {
          const kept = methods.keep(
            toKeep(inventedSet(act.number, { station: act.station }), "", inventedLog(act.number, 3)),
          );
          if (known === undefined) {
            model.set(act.number, kept);
            announced.push(kept);
          }
          continue;
        }
        const { changes } = act;
        const set_id = uuidOf(act.number);
        const revised = methods.revise({ set_id, changes, performed_by: null, revised_at: instantAt(0), topic: TOPIC });
        if (known === undefined) expect(revised).toBeNull();
        const differs = known !== undefined && Object.entries(changes).some(([name, value]) => known[name] !== value);
        if (!differs) continue;
        const next = { ...known, ...changes, revision: known.revision + 1, set_seq: announced.length + 1 };
        expect(revised).toEqual(next);
        model.set(act.number, next);
        announced.push(next);
      }
      const highest = [...model.values()].sort((one, other) => one.set_seq - other.set_seq);
      expect(methods.sets({}).sets).toEqual(highest);
      expect(methods.sets({}).last_set_seq).toBe(announced.length === 0 ? null : announced.length);
      expect(announced.map(({ set_seq }) => set_seq)).toEqual(announced.map((_, index) => index + 1));
      const rows = methods.outbox(100);
      expect(rows.map(({ payload }) => JSON.parse(payload))).toEqual(announced);
      expect(database.get("SELECT count(*) AS logs FROM set_log")).toEqual({ logs: model.size });
      for (const [number, message] of model) {
        const found = methods.set(uuidOf(number));
        expect(found?.message).toEqual(message);
        expect(found && plainLog(found.log)).toEqual(inventedLog(number, 3));
      }
      for (const trainee of ["t-01", "t-02"]) {
        const query = { ...inventedSet(0), trainee, setup: "", day_starts_at: instantAt(0), now: instantAt(99) };
        const own = highest.filter((set) => set.trainee === trainee && set.station === "leg-press");
        const counted = own.filter((set) => !set.void);
        expect(methods.history(query)).toMatchObject({
          sets_here: own.length,
          set_of_day: counted.length + 1,
          today_best_force_N: counted.length === 0 ? null : Math.max(...counted.map((set) => set.best_force_N ?? 0)),
        });
      }
      methods.close();
    }),
    { numRuns: 60 },
  );
});
