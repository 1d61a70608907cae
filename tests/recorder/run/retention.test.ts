import { expect, test } from "vitest";
import { eraseOld } from "../../../recorder/run/retention.ts";
import type { Now } from "../../../recorder/station/exchange.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { NOTICE } from "../store/erasing.ts";
import { inventedSet, toKeep } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";

const DAY_MS = 86_400_000;
const SILENT = { info() {}, warn() {} };

/** A set a day, the last on the day of `Date.UTC(2026, 10, 24)`; what is left of them `now`. */
async function left(
  now: Omit<Now, "ms">,
  days: number,
  over: (number: number) => object = () => ({}),
): Promise<number[]> {
  const { methods } = openTables(storePath());
  const last_ms = Date.UTC(2026, 10, 24);
  for (let number = 1; number <= days; number++) {
    const at = new Date(last_ms - (days - number) * DAY_MS).toISOString();
    methods.keep(toKeep(inventedSet(number, { at, started_at: at, ...over(number) })));
  }
  const store = {
    newestSure: async () => methods.newestSure(),
    sets: async (query: Parameters<typeof methods.sets>[0]) => methods.sets(query),
    beginErasure: async (wish: Parameters<typeof methods.beginErasure>[0]) => methods.beginErasure(wish),
  };
  await eraseOld({
    keep_sets_days: 30,
    store,
    erase: async (begin) => {
      const { erasure } = await begin();
      let after = null;
      for (let more = true; more; ) ({ more, after } = methods.eraseSets(erasure, NOTICE, after));
      return null;
    },
    now: () => ({ ms: 0, ...now }),
    log: SILENT,
  });
  return methods.sets({}).sets.map(({ best_force_N }) => (best_force_N ?? 0) - 1000);
}

const ON_TIME = { wall_ms: Date.UTC(2026, 10, 24), clock_synced: true };

test("what is older than the house keeps goes, reckoned from the twentieth-newest set", async () => {
  // 100 sets: the twentieth-newest is number 81, and 30 days before it number 51.
  expect((await left(ON_TIME, 100))[0]).toBe(51);
});

test("a clock in 2040 erases no more than the right one", async () => {
  expect(await left({ wall_ms: Date.UTC(2040, 0, 1), clock_synced: true }, 100)).toEqual(await left(ON_TIME, 100));
});

test("neither does it with some sets that bear that date already", async () => {
  const jumped = (number: number): object => (number > 90 ? { at: "2040-01-01T00:00:00.000Z" } : {});
  expect((await left({ wall_ms: Date.UTC(2040, 0, 1), clock_synced: true }, 100, jumped))[0]).toBe(51);
});

test("a clock nobody vouches for, or one in the past, erases nothing that is young by it", async () => {
  expect(await left({ ...ON_TIME, clock_synced: false }, 100)).toHaveLength(100);
  expect((await left({ wall_ms: Date.UTC(2026, 8, 24), clock_synced: true }, 100))[0]).toBe(9);
});

test("of fewer than twenty sets none is erased", async () => {
  expect(await left({ wall_ms: Date.UTC(2027, 10, 24), clock_synced: true }, 19)).toHaveLength(19);
});
