import { beforeEach, describe, expect, test } from "vitest";
import type { CheckpointPart } from "../../../recorder/ports.ts";
import { openTables, type StoreMethods, type Tables } from "../../../recorder/store/tables.ts";
import { inventedLog, inventedSet, plainLog, toKeep, uuidOf } from "./invented.ts";
import { sliceLog } from "./parts-of.ts";
import { storePath } from "./store-path.ts";

let path: string;
let tables: Tables;
let store: StoreMethods;

function open(): void {
  tables = openTables(path);
  store = tables.methods;
}

function reopen(): void {
  store.close();
  open();
}

beforeEach(() => {
  path = storePath();
  open();
  return () => store.close();
});

const part = (number: number, index: number, start: number, end: number): CheckpointPart => ({
  set_id: uuidOf(number),
  station: "leg-press",
  part: index,
  log: sliceLog(inventedLog(number), start, end),
});

const unfinishedNow = (): unknown[] => store.unfinished().map((set) => ({ ...set, log: plainLog(set.log) }));

describe("running sets", () => {
  test("are joined again after a restart", () => {
    store.checkpoint([part(1, 0, 0, 80), { ...part(2, 0, 0, 10), station: "row" }]);
    store.checkpoint([part(1, 1, 80, 200)]);
    reopen();
    expect(unfinishedNow()).toEqual([
      { set_id: uuidOf(1), station: "leg-press", log: inventedLog(1) },
      { set_id: uuidOf(2), station: "row", log: sliceLog(inventedLog(2), 0, 10) },
    ]);
  });

  test("are gone when they are kept or come to nothing, and a late part does not bring one back", () => {
    store.checkpoint([part(1, 0, 0, 10), part(2, 0, 0, 10), part(3, 0, 0, 10)]);
    store.keep(toKeep(inventedSet(1)));
    store.forget(uuidOf(2));
    store.checkpoint([part(1, 1, 10, 20), part(3, 1, 10, 20)]);
    expect(store.unfinished().map((set) => set.set_id)).toEqual([uuidOf(3)]);
    store.forget(uuidOf(99));
  });

  test("a part sent again takes the former's place", () => {
    store.checkpoint([part(1, 0, 0, 10)]);
    store.checkpoint([part(1, 0, 0, 25)]);
    expect(unfinishedNow()).toEqual([
      { set_id: uuidOf(1), station: "leg-press", log: sliceLog(inventedLog(1), 0, 25) },
    ]);
  });

  test("end before a part that is missing or damaged, and one that cannot begin is left out", () => {
    store.checkpoint([part(1, 0, 0, 10), part(1, 2, 20, 30)]);
    store.checkpoint([part(2, 0, 0, 10), part(2, 1, 10, 20), part(2, 2, 20, 30)]);
    store.checkpoint([part(3, 0, 0, 10), part(3, 1, 10, 20)]);
    tables.database.run("UPDATE running_part SET log = x'00' WHERE set_id = ? AND part = 1", uuidOf(2));
    tables.database.run("UPDATE running_part SET log = x'00' WHERE set_id = ? AND part = 0", uuidOf(3));
    expect(unfinishedNow()).toEqual(
      [1, 2].map((number) => ({
        set_id: uuidOf(number),
        station: "leg-press",
        log: sliceLog(inventedLog(number), 0, 10),
      })),
    );
  });

  test("are checkpointed together or not at all", () => {
    const broken = { ...part(2, 0, 0, 10), log: { ...inventedLog(2), counts: [1] } };
    expect(() => store.checkpoint([part(1, 0, 0, 10), broken])).toThrow();
    expect(store.unfinished()).toEqual([]);
  });
});

describe("the outbox", () => {
  test("keeps the order of each station, and a row goes only when it was sent", () => {
    for (const number of [1, 2, 3, 4, 5, 6]) {
      store.keep(toKeep(inventedSet(number, { station: number % 3 === 0 ? "row" : "leg-press" })));
    }
    const rows = (limit: number): string[] => store.outbox(limit).map((row) => `${row.row} ${row.station}`);
    expect(rows(1)).toEqual(["1 leg-press", "3 row"]);
    expect(rows(2)).toEqual(["1 leg-press", "2 leg-press", "3 row", "6 row"]);
    store.sent(1);
    store.sent(6);
    store.sent(6);
    reopen();
    expect(rows(9)).toEqual(["2 leg-press", "3 row", "4 leg-press", "5 leg-press"]);
    expect(store.outboxSize()).toBe(4);
  });

  test("sends the same bytes at every sending", () => {
    store.keep(toKeep(inventedSet(1, { note: "größe ✓", best_force_N: 1e-7 })));
    const before = store.outbox(1);
    reopen();
    expect(store.outbox(1)).toEqual(before);
  });
});

test("retained topics are remembered until they are cleared", () => {
  for (const topic of ["b", "a", "b"]) store.rememberRetained(topic);
  reopen();
  expect(store.retained()).toEqual(["a", "b"]);
  store.forgetRetained("a");
  store.forgetRetained("never set");
  expect(store.retained()).toEqual(["b"]);
});
