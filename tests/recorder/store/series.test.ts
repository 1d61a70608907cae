import { beforeEach, describe, expect, test, vi } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { SeriesDays, SeriesFound, SeriesQuery } from "../../../recorder/record-ports.ts";
import { keepRow } from "../../../recorder/store/keeping.ts";
import { STEPS } from "../../../recorder/store/steps.ts";
import { openTables, type StoreMethods, type Tables } from "../../../recorder/store/tables.ts";
import { inventedLog, inventedSet, toKeep, uuidOf } from "./invented.ts";
import { storePath } from "./store-path.ts";

let tables: Tables;
let store: StoreMethods;
beforeEach(() => {
  tables = openTables(storePath());
  store = tables.methods;
  return () => store.close();
});

const at = (day: number, hour = 10, minute = 0): string => new Date(Date.UTC(2026, 2, day, hour, minute)).toISOString();

/** One set of 2026-03-`day`; its best tells its number. */
function keep(number: number, started_at: string, over: Partial<SetMessage> = {}, setup = ""): SetMessage {
  const message = inventedSet(number, { started_at, at: started_at, best_force_N: 1000 + number, ...over });
  return store.keep(toKeep(message, setup, inventedLog(number, 20)));
}

const series = (over: Partial<SeriesQuery> = {}): readonly SeriesFound[] =>
  store.series({ station: "leg-press", trainee: "t-01", limit: 8, ...over });

function days(over: { from?: string; to?: string; limit?: number; time_zone?: string } = {}): SeriesDays {
  const [newest] = series(over);
  if (newest === undefined) throw new Error("there is no series");
  const query = { station: "leg-press", trainee: "t-01", series: newest, time_zone: "UTC", limit: 100, ...over };
  return store.seriesDays(query);
}
const bests = (found: SeriesDays): number[] => found.days.map((day) => day.best_force_N - 1000);

describe("the series there are", () => {
  test("are one of each exercise, side, style and intent, newest first, with the newest setup of each", () => {
    keep(1, at(1), { side: "left" }, '{"seat":"2"}');
    keep(2, at(2), { side: "right", resting_subtracted: true });
    keep(3, at(3), { side: null, exercise: "calf-raise", exercise_label: "Calf raise" });
    keep(4, at(4), { side: "left" }, '{"seat":"3"}');
    keep(5, at(5), { side: "left", style: "continuous" });
    keep(6, at(6), { side: "left", intent: "held" });
    keep(7, at(7), { station: "row" });
    keep(8, at(8), { trainee: "t-02" });
    const kind = { exercise: "leg-press", exercise_label: "Leg press", style: "hold", intent: "maximal" };
    const plain = { ...kind, side: "left", setup: "", resting_subtracted: false };
    expect(series()).toEqual([
      { ...plain, intent: "held" },
      { ...plain, style: "continuous" },
      { ...plain, setup: '{"seat":"3"}' },
      { ...plain, exercise: "calf-raise", exercise_label: "Calf raise", side: null },
      { ...plain, side: "right", resting_subtracted: true },
    ]);
    expect(series({ limit: 2 })).toHaveLength(2);
    expect(series({ side: "left", style: "hold", intent: "maximal", exercise: "leg-press" })).toHaveLength(1);
    expect(series({ exercise: "calf-raise" })).toMatchObject([{ side: null }]);
    expect(series({ to: at(4) })[1]).toMatchObject({ side: "right" });
    expect(series({ side: "left", to: at(4) })).toMatchObject([{ setup: '{"seat":"2"}' }]);
    expect(series({ from: at(6, 11) })).toEqual([]);
  });

  test("do not begin with a warm-up, a void set, one that was cut short or one without a best", () => {
    keep(1, at(1), { warm_up: true });
    keep(2, at(1), { void: true });
    keep(3, at(1), { cut_short: true });
    keep(4, at(1), { best_force_N: null });
    expect(series()).toEqual([]);
    keep(5, at(1, 12));
    keep(6, at(1, 13));
    expect(bests(days())).toEqual([5]);
  });
});

describe("the days of a series", () => {
  test("are told by the first set kept that day, oldest first", () => {
    keep(1, at(2, 9));
    keep(2, at(2, 18));
    // Kept later though it says it started earlier.
    keep(3, at(2, 8));
    keep(4, at(5));
    const found = days();
    expect(bests(found)).toEqual([1, 4]);
    expect(found).toMatchObject({ more: false, other_setup: null });
    expect(found.days[0]).toEqual({
      day: "2026-03-02",
      set_id: uuidOf(1),
      set_seq: 1,
      started_at: at(2, 9),
      fatigue_threshold: 0.4,
      reached_threshold: true,
      best_force_N: 1001,
      impulse_N_s: 48_000.5,
      duration_s: 61.25,
      mean_force_N: 784,
      mean_effort_force_N: 784,
      force_loss: 0.41,
      expanded_uncertainty_N: 9.5,
      calibration_id: uuidOf(0xca1),
      zero_shift_N: null,
      best_unconfirmed: false,
      simulated: false,
      pain: null,
      ended_because: null,
    });
  });

  test("an imported set stands before everything kept here", () => {
    keep(1, at(2, 9));
    keep(2, at(2, 11));
    tables.database.run("UPDATE kept_set SET first_set_seq = -7 WHERE set_id = ?", uuidOf(2));
    expect(bests(days())).toEqual([2]);
  });

  test("are those of the site's time zone, also where a clock is put back", () => {
    // Lisbon is an hour behind UTC from 2026-10-25T01:00Z on, and level with it in winter [IANA, from memory].
    keep(1, "2026-10-24T23:30:00.000Z");
    keep(2, "2026-10-25T12:00:00.000Z");
    keep(3, "2026-10-25T23:59:00.000Z");
    keep(4, "2026-10-26T00:00:00.000Z");
    expect(days({ time_zone: "Europe/Lisbon" }).days.map(({ day, set_id }) => [day, set_id])).toEqual([
      ["2026-10-25", uuidOf(1)],
      ["2026-10-26", uuidOf(4)],
    ]);
    expect(days().days.map(({ day }) => day)).toEqual(["2026-10-24", "2026-10-25", "2026-10-26"]);
  });

  test("are the newest, and it is said whether there are more", () => {
    for (let day = 1; day <= 28; day++) for (let set = 0; set < 6; set++) keep(day * 10 + set, at(day, 9, set));
    expect(bests(days({ limit: 3 }))).toEqual([260, 270, 280]);
    expect(days({ limit: 3 }).more).toBe(true);
    expect(days({ limit: 28 })).toMatchObject({ more: false });
    expect(days({ limit: 28 }).days).toHaveLength(28);
    expect(bests(days({ from: at(5), to: at(7), limit: 3 }))).toEqual([60, 70]);
  });

  test("with another setup or resting mode are left out and counted", () => {
    keep(1, at(1), {}, '{"seat":"2"}');
    keep(2, at(2), { resting_subtracted: true });
    keep(3, at(3));
    keep(4, at(3, 12), {}, '{"seat":"2"}');
    keep(5, at(4), {}, '{"seat":"2"}');
    keep(6, at(5));
    const found = days();
    expect(bests(found)).toEqual([3, 6]);
    expect(found.other_setup).toEqual({ last_day: "2026-03-04", days: 3 });
    expect(days({ limit: 1 })).toMatchObject({ more: true, other_setup: { days: 1 } });
  });

  test("bear the worst pain of all sets of the day there, whatever those sets were", () => {
    keep(1, at(1), { pain: 1 });
    keep(2, at(1, 12), { pain: 6, void: true, style: "continuous" });
    keep(3, at(1, 13), { pain: 9, station: "row" });
    keep(4, at(1, 14), { pain: 8, trainee: "t-02" });
    keep(5, at(2));
    keep(6, at(2, 12), { ended_because: "pain", warm_up: true });
    keep(7, at(3), { ended_because: "done", pain: 0 });
    expect(days().days.map(({ pain, ended_because }) => [pain, ended_because])).toEqual([
      [6, null],
      [null, "pain"],
      [0, "done"],
    ]);
  });

  test("are followed by what was said of pain later, on a day that has no comparable set", () => {
    keep(1, at(1), { pain: 4 });
    expect(days().pain_since).toBeNull();
    keep(2, at(9), { pain: 5, void: true, side: "right" });
    keep(3, at(11), { warm_up: true, ended_because: "pain" });
    keep(4, at(11, 12), { void: true, pain: 3 });
    keep(5, at(12), { station: "row", pain: 9 });
    keep(6, at(13));
    expect(days({ to: at(13) }).pain_since).toEqual({ day: "2026-03-11", pain: 3, ended: true });
    expect(days({ to: at(11) }).pain_since).toEqual({ day: "2026-03-09", pain: 5, ended: false });
    expect(days({ to: at(2) })).toMatchObject({ pain_since: null, days: [{ pain: 4 }] });
    // They have trained since, and said nothing of it.
    expect(days().pain_since).toBeNull();
  });

  test("go by the highest revision", () => {
    keep(1, at(1));
    keep(2, at(2));
    const revise = (number: number, changes: Partial<SetMessage>) =>
      store.revise({ set_id: uuidOf(number), changes, performed_by: null, revised_at: at(9), topic: "t" });
    revise(1, { zero_shift_N: 0.5, pain: 3 });
    expect(days().days).toMatchObject([{ set_seq: 3, zero_shift_N: 0.5, pain: 3 }, { zero_shift_N: null }]);
    revise(2, { void: true });
    expect(bests(days())).toEqual([1]);
  });

  test("say how long this trainee had rested, wherever they were before", () => {
    keep(1, at(1));
    expect(days().rested_s).toBeNull();
    keep(2, at(2, 9), { station: "row" });
    keep(3, at(2, 9, 3));
    keep(4, at(2, 9, 30));
    expect(days().rested_s).toBe(180);
  });

  test("are there though a message cannot be read any more", () => {
    keep(1, at(1));
    tables.database.exec("UPDATE change_log SET message = 'rotten'");
    expect(bests(days())).toEqual([1]);
  });
});

test("a store from before the narrow columns gives the same days, and none for a text that was rotten", () => {
  const path = storePath();
  const old = openTables(path, STEPS.slice(0, 3));
  const columns = old.database.all<{ name: string }>("SELECT name FROM pragma_table_info('kept_set')");
  for (const number of [1, 2, 3]) {
    const over = { zero_shift_N: 0.25, pain: 2, ended_because: "technique" as const, reached_threshold: number === 1 };
    keep(number, at(number), over);
    const { message } = tables.database.get<{ message: string }>(
      "SELECT message FROM change_log WHERE set_seq = ?",
      number,
    ) as { message: string };
    const text = number === 3 ? message.slice(0, 200) : message;
    old.database.run(
      "INSERT INTO change_log (set_id, revision, message, trainee) VALUES (?, 1, ?, 't-01')",
      ...[uuidOf(number), text],
    );
  }
  const rows = tables.database.all<Record<string, string | number | null>>("SELECT * FROM kept_set");
  for (const row of rows) {
    const names = columns.map(({ name }) => name);
    old.database.run(
      `INSERT INTO kept_set (${names.join(", ")}) VALUES (${names.map(() => "?").join(", ")})`,
      ...names.map((name) => row[name] ?? null),
    );
  }
  old.methods.close();
  const { database, methods } = openTables(path);
  const migrated = database.all<Record<string, unknown>>("SELECT * FROM kept_set ORDER BY first_set_seq");
  expect(migrated.slice(0, 2)).toEqual(rows.slice(0, 2));
  expect(migrated[0]).toMatchObject({
    impulse_N_s: 48_000.5,
    reached_threshold: 1,
    ended_because: "technique",
    pain: 2,
  });
  expect(migrated[1]).toMatchObject({ reached_threshold: 0, best_unconfirmed: 0 });
  expect(migrated[2]).toMatchObject({ best_force_N: 1003, impulse_N_s: null, calibration_id: null });
  const [found] = methods.series({ station: "leg-press", trainee: "t-01", limit: 8 });
  expect(found).toMatchObject({ exercise_label: null });
  methods.close();
});

test("what is read goes with the days asked for, not with how long the record is", () => {
  const { database } = tables;
  const A_DAY = 3;
  const write = (from: number, to: number): void =>
    database.transaction(() => {
      for (let number = from; number < to; number++) {
        const started_at = at(Math.floor(number / A_DAY) - 3000, 9, number % A_DAY);
        keepRow(database, inventedSet(number, { started_at, set_seq: number, pain: 1 }), "");
      }
    });
  const readFor = (limit: number): number => {
    const read = vi.spyOn(database, "all");
    expect(days({ limit }).days).toHaveLength(limit);
    const rows = read.mock.results.reduce((sum, { value }) => sum + (value as unknown[]).length, 0);
    read.mockRestore();
    return rows;
  };
  write(A_DAY, 100 * A_DAY);
  const short = readFor(10);
  write(100 * A_DAY, 2000 * A_DAY);
  // A little more than ten days: the step in which they are read, and the days around them that may be theirs elsewhere.
  expect(short).toBeLessThan(10 * A_DAY * 2 + 110);
  expect(readFor(10)).toBe(short);
  expect(readFor(200)).toBeLessThan(200 * A_DAY * 2 + 110);
});

test("questions are answered by an index, in its order, and by no message", () => {
  keep(1, at(1), { pain: 1 });
  days({ from: at(1), to: at(2) });
  const asked = tables.database.texts.filter((text) => text.startsWith("SELECT") && text.includes("kept_set"));
  const ours = asked.filter((text) => /kept_set_series|kept_set_pain|restedBefore|first_set_seq < \?/.test(text));
  expect(ours).toHaveLength(5);
  for (const text of ours) {
    const plan = tables.database.all<{ detail: string }>(`EXPLAIN QUERY PLAN ${text}`).map((row) => row.detail);
    expect({ text, slow: plan.filter((step) => /SCAN|TEMP B-TREE/.test(step)) }).toEqual({ text, slow: [] });
    expect(text).not.toContain("change_log");
  }
});
