/** The simulated gym's weeks before today: sets like any other, and a record that shows what it was invented to show. */
import { randomUUID } from "node:crypto";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { type TrendResult, trendResultSchema } from "../../../protocol/requests/trend.ts";
import type { Store } from "../../../recorder/ports.ts";
import { replaySet } from "../../../recorder/run/replay.ts";
import { inventWeeks } from "../../../recorder/run/simulated-weeks.ts";
import { trending } from "../../../recorder/run/trending.ts";
import { calibrationsOf } from "../../../recorder/simulated-gym/scenario.ts";
import { openTables, type StoreMethods } from "../../../recorder/store/tables.ts";
import { configurationIn, SEED } from "./gym-service.ts";

const NOW_MS = Date.parse("2026-11-27T17:00:00.000Z");
let methods: StoreMethods;
let store: Pick<Store, "store_id" | "importPiece" | "series" | "seriesDays" | "plan" | "set">;
const directory = mkdtempSync(join(tmpdir(), "tidemark-weeks-"));

beforeAll(async () => {
  const tables = openTables(join(directory, "tidemark.db"));
  ({ methods } = tables);
  store = {
    store_id: tables.store_id,
    importPiece: async (piece) => methods.importPiece(piece),
    series: async (query) => methods.series(query),
    seriesDays: async (query) => methods.seriesDays(query),
    plan: async (station, trainee) => methods.plan(station, trainee),
    set: async (set_id) => methods.set(set_id),
  };
  const configuration = configurationIn("/nowhere");
  const scalesOf = (days_ago: number) => {
    const ids = configuration.station.map(() => randomUUID());
    return calibrationsOf(configuration, { now_ms: NOW_MS, days_ago, ids }, SEED, SEED + days_ago);
  };
  const scales = { before: scalesOf(100), now: scalesOf(12), since_days: 12 };
  await inventWeeks(configuration, scales, {
    now_ms: NOW_MS,
    store,
    stopped: new AbortController().signal,
    seed: SEED,
  });
}, 60_000);

afterAll(() => {
  methods.close();
  rmSync(directory, { recursive: true });
});

async function trendOf(station: string, trainee: string): Promise<TrendResult["trends"]> {
  const ports = {
    loops: new Map(),
    store,
    publisher: { watch: () => () => {} },
    time_zone: "UTC",
    now: () => ({ ms: 0, wall_ms: NOW_MS, clock_synced: true }),
  };
  const answer = await trending({ ...ports, log: { error: () => {} } })({ station, trainee, limit: 100 });
  if (!answer.ok) throw new Error(answer.error.message);
  return trendResultSchema.parse(answer.result).trends;
}

describe("an invented set", () => {
  it("is judged again to the very same figures, and says that it is simulated", () => {
    const { sets } = methods.sets({ limit: 6 });
    expect(sets).toHaveLength(6);
    for (const { set_id } of sets) {
      const kept = methods.set(set_id);
      if (kept === null) throw new Error("a listed set is not kept");
      expect(kept.message).toMatchObject({
        simulated: true,
        warm_up: false,
        cut_short: false,
        reached_threshold: true,
      });
      expect(replaySet(kept.message, kept.log, {})).toEqual(kept.message);
    }
  });

  it("is announced to nobody: it is of before this run", () => {
    expect(methods.outbox(10)).toEqual([]);
  });
});

describe("looked back on", () => {
  it("one got stronger at a smaller loss, and is to go on so", async () => {
    const [trend, ...others] = await trendOf("leg-press", "otter-14");
    expect(others).toEqual([]);
    expect(trend?.days.map(({ fatigue_threshold }) => fatigue_threshold)).toEqual([
      ...Array(10).fill(0.4),
      ...Array(10).fill(0.35),
    ]);
    expect(trend?.days.every(({ simulated }) => simulated)).toBe(true);
    expect(trend?.setup).toEqual({ plate: "high", seat: "4" });
    expect(trend?.days.filter(({ new_calibration }) => new_calibration)).toHaveLength(1);
    expect(trend?.changes[0]).toMatchObject({ figure: "best_force_N", is_real: true, calibration_changed: true });
    // Deeper sets are judged again at the shallower loss.
    expect(trend?.changes[1]).toMatchObject({ figure: "impulse_N_s", at_threshold: 0.35, from_days: 6 });
    expect(trend?.advice).toMatchObject({ advice: "lower-threshold", fatigue_threshold: 0.3 });
  });

  it("one stays as they are, on both sides", async () => {
    const trends = await trendOf("knee-extension", "wren-21");
    expect(trends.map(({ side }) => side).sort()).toEqual(["left", "right"]);
    for (const { advice, changes } of trends) {
      expect(advice).toMatchObject({ advice: "keep", fatigue_threshold: 0.2 });
      expect(changes[0]?.is_real).toBe(false);
    }
  });

  it("one came tired", async () => {
    const [trend] = await trendOf("pull-down", "ibex-03");
    expect(trend?.advice).toMatchObject({ advice: "ease-off", fatigue_threshold: 0.25 });
    expect(trend?.advice.reasons[0]).toMatch(/^Best of 2026-11-26 was [12]\d % below/);
  });

  it("each has a plan", () => {
    expect(methods.plan("leg-press", "otter-14")).toMatchObject({ fatigue_threshold: 0.35, rest_s: 180 });
    expect(methods.plan("knee-extension", "wren-21")).toMatchObject({ sides: ["left", "right"] });
  });
});
