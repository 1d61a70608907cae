/** The verb `trend`: from a store's days to rounded answers, with what is judged again judged in small pieces. */
import { beforeEach, describe, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { type Trend, type TrendDay, trendResultSchema } from "../../../protocol/requests/trend.ts";
import type { Resistance } from "../../../protocol/vocabulary.ts";
import { RememberedReplays } from "../../../recorder/run/remembered-replays.ts";
import { figuresAt, replaySet } from "../../../recorder/run/replay.ts";
import { rounded } from "../../../recorder/run/trend-rounding.ts";
import { trending } from "../../../recorder/run/trending.ts";
import { openTables, type StoreMethods } from "../../../recorder/store/tables.ts";
import { type Bench, holdCurve, readyBench } from "../station/bench.ts";
import { inventedLog, inventedSet, toKeep, uuidOf } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";

let store: StoreMethods;
beforeEach(() => {
  store = openTables(storePath()).methods;
  return () => store.close();
});

const NOW_MS = Date.parse("2026-11-27T12:00:00.000Z");
const at = (days_ago: number): string => new Date(NOW_MS - days_ago * 86_400_000).toISOString();

function keep(number: number, days_ago: number, over: Partial<SetMessage> = {}, setup = ""): SetMessage {
  const message = inventedSet(number, { started_at: at(days_ago), at: at(days_ago), ...over });
  return store.keep(toKeep(message, setup, inventedLog(number, 20)));
}

async function trend(args: { limit?: number; side?: "left" | "right"; to?: string } = {}): Promise<readonly Trend[]> {
  const station = readyBench({ station: { resistance: "driven" satisfies Resistance } }).station;
  const ask = trending({
    loops: new Map([["leg-press", { station }]]),
    store: {
      series: async (query) => store.series(query),
      seriesDays: async (query) => store.seriesDays(query),
      plan: async (id, trainee) => store.plan(id, trainee),
      set: async (set_id) => store.set(set_id),
    },
    publisher: { watch: () => () => {} },
    time_zone: "UTC",
    now: () => ({ ms: 0, wall_ms: NOW_MS, clock_synced: true }),
    log: { error: (_fields, message) => expect.fail(message) },
  });
  const outcome = await ask({ station: "leg-press", trainee: "t-01", limit: 100, ...args });
  if (!outcome.ok) throw new Error(outcome.error.message);
  return trendResultSchema.parse(outcome.result).trends;
}

/** Nothing shown stands before it. */
const sameScale = (day: TrendDay, index: number): TrendDay => (index === 0 ? { ...day, new_calibration: false } : day);

describe("an answer", () => {
  it("of nobody known is empty, and of somebody has each kind of set, newest first", async () => {
    expect(await trend()).toEqual([]);
    keep(1, 9);
    keep(2, 5, { side: "right", calibration_id: uuidOf(0xca2) });
    keep(3, 2, { side: "right" }, '{"pin":"B","seat":"3"}');
    const [right, left, ...none] = await trend();
    expect(none).toEqual([]);
    expect(right).toMatchObject({ side: "right", setup: { pin: "B", seat: "3" }, days_of_other_setup: 1, more: false });
    expect(right?.days).toMatchObject([{ set_id: uuidOf(3), day: "2026-11-25" }]);
    expect(left).toMatchObject({ side: "left", setup: {}, days_of_other_setup: 0, exercise_label: "Leg press" });
    expect(await trend({ side: "left" })).toHaveLength(1);
  });

  it("is silent after pain of a set that does not compare", async () => {
    for (let day = 0; day < 6; day++) keep(day, 30 - 5 * day);
    expect((await trend())[0]?.advice.advice).not.toBe("none");
    keep(6, 2, { warm_up: true, ended_because: "pain" });
    const [found] = await trend();
    expect(found?.advice).toMatchObject({ advice: "none", fatigue_threshold: null });
    expect(found?.advice.reasons[0]).toContain("2026-11-25");
  });

  it("to a day in the past is that day's", async () => {
    for (let day = 0; day < 6; day++) keep(day, 100 - 5 * day);
    keep(6, 1);
    expect((await trend({ to: at(70) }))[0]?.advice.advice).toBe("keep");
    expect((await trend({ to: at(20) }))[0]?.advice.reasons[0]).toMatch(/long before 2026-11-07/);
  });

  it("is judged alike however few days are shown", async () => {
    for (let day = 0; day < 16; day++) {
      const calibration_id = uuidOf(day < 14 ? 0xca1 : 0xca2);
      keep(day, 80 - 5 * day, { best_force_N: 1000 + 20 * (day % 2) + (day < 12 ? 0 : 200), calibration_id });
    }
    const [whole] = await trend();
    const [short] = await trend({ limit: 2 });
    expect(whole).toMatchObject({ more: false, advice: { advice: "lower-threshold" } });
    expect(short).toEqual({ ...whole, more: true, days: whole?.days.slice(-2).map(sameScale) });
  });

  it("stays within 512 KiB, however many days and sides are asked for", async () => {
    for (let day = 0; day < 500; day++) {
      keep(2 * day, day, { side: "left" });
      keep(2 * day + 1, day, { side: "right" });
    }
    const both = await trend({ limit: 1000 });
    expect(both.map(({ days, more }) => [days.length, more])).toEqual([
      [400, true],
      [400, true],
    ]);
    expect(Buffer.byteLength(JSON.stringify(both))).toBeLessThan(512 * 1024);
    expect((await trend({ limit: 1000, side: "left" }))[0]?.days).toHaveLength(500);
  }, 60_000);
});

describe("rounding", () => {
  it("is that of messages, by what each figure is", () => {
    const plain = { from_days: 3, to_days: 3, is_real: true, is_worthwhile: true, calibration_changed: false };
    const change = { ...plain, from_value: 1000.123_456, to_value: 1100.987_654, change: 0.100_861_7 };
    const exact = { ...change, minimal_detectable_change: 0.052_34, at_threshold: 0.300_000_000_04 };
    const trend = {
      errors: [{ typical_error: 0.031_277, degrees_of_freedom: 4, minimal_detectable_change: 0.086_69 }],
      smallest_worthwhile_change: { fraction: 0.006_25, source: "" },
      changes: [
        { ...exact, figure: "best_force_N" },
        { ...exact, figure: "duration_s" },
      ],
      advice: { fatigue_threshold: 0.350_000_000_000_01 },
    } as unknown as Trend;
    expect(rounded(trend)).toMatchObject({
      errors: [{ typical_error: 0.0313, degrees_of_freedom: 4, minimal_detectable_change: 0.0867 }],
      smallest_worthwhile_change: { fraction: 0.0063 },
      changes: [
        {
          from_value: 1000.12,
          to_value: 1100.99,
          change: 0.1009,
          minimal_detectable_change: 0.0523,
          at_threshold: 0.3,
        },
        { from_value: 1000.123, to_value: 1100.988 },
      ],
      advice: { fatigue_threshold: 0.35 },
    });
  });
});

/** A hold that goes down to nearly nothing, ended at a loss of 60 %. */
function deepHold() {
  const bench: Bench = readyBench().begin({ style: "hold", fatigue_threshold: 0.6 });
  bench.pull(0.5, 0).pull(70, holdCurve(1000, 20, 20));
  const [kept] = bench.kept;
  if (kept === undefined) throw new Error("no set");
  return kept;
}

describe("a set judged again in pieces", () => {
  it("comes to what it comes to in one go", async () => {
    const { message, log } = deepHold();
    for (const fatigue_threshold of [0.6, 0.4, 0.2]) {
      const whole = replaySet(message, log, { fatigue_threshold });
      const { best_force_N, impulse_N_s, duration_s, mean_force_N, reached_threshold } = whole;
      expect(await figuresAt(message, log, fatigue_threshold)).toMatchObject({
        ...{ best_force_N, impulse_N_s, duration_s, mean_force_N, reached_threshold },
      });
      expect(whole.duration_s).toBeLessThanOrEqual(message.duration_s);
    }
  });

  it("lets others have their turn in between", async () => {
    const { message, log } = deepHold();
    let turns = 0;
    let done = false;
    const others = (async () => {
      for (; !done; turns++) await new Promise(setImmediate);
    })();
    await figuresAt(message, log, 0.4);
    done = true;
    await others;
    expect(turns).toBeGreaterThanOrEqual(Math.floor(log.at_us.length / 1500));
  });

  it("is read once, however often it is asked for, and one that cannot be read hides no other", async () => {
    const { message, log } = deepHold();
    const read: string[] = [];
    const errors: string[] = [];
    const replays = new RememberedReplays(
      {
        set: async (set_id) => {
          read.push(set_id);
          if (set_id === uuidOf(91)) throw new Error("it is rotten");
          return set_id === message.set_id ? { message, log } : null;
        },
      },
      { error: (_fields, said) => errors.push(said) },
    );
    const wanted = [uuidOf(91), uuidOf(92), message.set_id].map((set_id) => ({ set_id, fatigue_threshold: 0.4 }));
    const first = await replays.of(wanted);
    const { impulse_N_s } = replaySet(message, log, { fatigue_threshold: 0.4 });
    expect([...first.values()]).toMatchObject([{ impulse_N_s }]);
    expect(errors).toEqual(["a kept set could not be judged again for a trend"]);
    expect(await replays.of(wanted.slice(2))).toEqual(first);
    expect(read.filter((set_id) => set_id === message.set_id)).toHaveLength(1);
    // A set is erased: nothing of before is remembered.
    replays.forget();
    expect(await replays.of(wanted.slice(2))).toEqual(first);
    expect(read.filter((set_id) => set_id === message.set_id)).toHaveLength(2);
    // Never lost three quarters.
    const deeper = await replays.of([{ set_id: message.set_id, fatigue_threshold: 0.75 }]);
    expect([...deeper.values()]).toEqual([
      { best_force_N: null, impulse_N_s: null, duration_s: null, mean_force_N: null },
    ]);
  });
});
