import { expect, it, onTestFinished, vi } from "vitest";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import type { Plan } from "../../../protocol/requests/plan.ts";
import { beginResultSchema } from "../../../protocol/requests/results.ts";
import { type History, type HistoryQuery, NO_HISTORY } from "../../../recorder/ports.ts";
import { recordFor } from "../../../recorder/run/begin-record.ts";
import { type DoorsOptions, doorsOf } from "../../../recorder/run/doors.ts";
import { Publisher } from "../../../recorder/run/publisher.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import { newStation } from "../../../recorder/station/state.ts";
import { BEGINS_MS, CALIBRATION_ID, KEPT, readyBench, record, stationConfiguration } from "../station/bench.ts";

const nobodyAsks = () => Promise.reject(new Error("nobody asks"));

it("status says of each station what its line cannot show", () => {
  const now = () => ({ ms: 0, wall_ms: BEGINS_MS, clock_synced: true });
  const loopOf = (changes: object): StationLoop =>
    new StationLoop(newStation(stationConfiguration(changes), false), { now, signal: () => {}, keep: () => {} });
  const loops = [loopOf({ id: "press" }), loopOf({ id: "row", dialect: "bare", board: undefined })];
  const doors = doorsOf({
    loops: new Map(loops.map((loop) => [loop.id, loop])),
    store: { history: nobodyAsks, calibration: nobodyAsks, plan: nobodyAsks, today: nobodyAsks },
    publisher: new Publisher({ recorder: KEPT.recorder, boot: KEPT.boot, simulated: false }, "tidemark", "hall"),
    time_zone: "UTC",
    now,
    log: { warn: () => {}, error: () => {} },
    erasing: new Set<string>(),
    recorder: () => ({ recorder: KEPT.recorder }),
  });
  expect(doors.status()).toMatchObject({
    recorder: KEPT.recorder,
    stations: [
      { station: "press", limits: [] },
      { station: "row", limits: expect.arrayContaining([expect.any(String)]) },
    ],
  });
});

it.each<[string, () => Promise<History>, number]>([
  ["cannot be read", () => Promise.reject(new Error("the disk is gone")), 0],
  ["does not come, because the disk hangs", () => new Promise(() => {}), 5000],
])(
  "a set is begun without a record that %s: that is said, and nothing is claimed from it",
  async (_why, history, ms) => {
    vi.useFakeTimers();
    onTestFinished(() => void vi.useRealTimers());
    const { station, now } = readyBench();
    const loop = new StationLoop(station, { now: () => now, signal: () => {}, keep: () => {} });
    const errors: string[] = [];
    const doors = doorsOf({
      loops: new Map([[loop.id, loop]]),
      store: { history, calibration: nobodyAsks, plan: async () => null, today: nobodyAsks },
      publisher: new Publisher({ recorder: KEPT.recorder, boot: KEPT.boot, simulated: false }, "tidemark", "hall"),
      time_zone: "UTC",
      now: () => now,
      log: { warn: () => {}, error: (_fields, message) => void errors.push(message) },
      erasing: new Set<string>(),
      recorder: () => ({}),
    });
    const args = { station: loop.id, trainee: "t-01", style: "hold" } as const;
    const begun = doors.ask(loop.id, { verb: "begin", args }, { performed_by: null, door: "socket" });
    await vi.advanceTimersByTimeAsync(Math.max(0, ms - 1));
    expect(loop.station.set === null).toBe(ms > 0);
    await vi.advanceTimersByTimeAsync(1);
    const outcome = await begun;
    expect(outcome).toMatchObject({
      result: {
        trainee: "t-01",
        fatigue_threshold: 0.2,
        warnings: expect.arrayContaining(["The trainee's record could not be read: this set runs without it."]),
      },
    });
    expect(loop.station.set?.path.facts).toMatchObject({ set_of_day: null, last_set_ended_at: null });
    expect(errors).toHaveLength(1);
    expect(vi.getTimerCount()).toBe(0);
  },
);

it.each<[string, () => Promise<CalibrationRecord | null>, object]>([
  ["is not kept", async () => null, { code: "out-of-range", message: expect.stringContaining(CALIBRATION_ID) }],
  ["is another station's", async () => record({ station: "row" }), { code: "out-of-range" }],
  ["cannot be read", () => Promise.reject(new Error("the disk is gone")), { code: "storage" }],
])("a record that %s is not put in force", async (_why, calibration, error) => {
  const { station, now } = readyBench();
  const kept: string[] = [];
  const loop = new StationLoop(station, {
    now: () => now,
    signal: () => {},
    keep: (effect) => void kept.push(effect.do),
  });
  const doors = doorsOf({
    loops: new Map([[loop.id, loop]]),
    store: { history: nobodyAsks, calibration, plan: nobodyAsks, today: nobodyAsks },
    publisher: new Publisher({ recorder: KEPT.recorder, boot: KEPT.boot, simulated: false }, "tidemark", "hall"),
    time_zone: "UTC",
    now: () => now,
    log: { warn: () => {}, error: () => {} },
    erasing: new Set<string>(),
    recorder: () => ({}),
  });
  const args = { station: loop.id, calibration_id: CALIBRATION_ID };
  const asked = doors.ask(loop.id, { verb: "calibration-use", args }, { performed_by: null, door: "socket" });
  expect(await asked).toMatchObject({ ok: false, error });
  expect(kept).toEqual([]);
});

const PLAN: Plan = {
  station: "leg-press",
  trainee: "t-01",
  sides: ["left", "right"],
  exercise: null,
  style: "hold",
  intent: null,
  fatigue_threshold: 0.5,
  setup: { seat: "4", pin: "7" },
  options: {},
  warm_up: null,
  rest_s: 120,
  by_side: { right: { setup: { pin: "8" } } },
  note: null,
  saved_at: "2026-11-20T10:00:00.000Z",
  performed_by: "P-01",
};

/** A begin of t-01 at a station that is ready, by what the store answers. */
function planned(store: Partial<DoorsOptions["store"]>, station: Parameters<typeof readyBench>[0] = {}) {
  const { station: ready, now } = readyBench(station);
  const loop = new StationLoop(ready, { now: () => now, signal: () => {}, keep: () => {} });
  const doors = doorsOf({
    loops: new Map([[loop.id, loop]]),
    store: {
      history: async () => NO_HISTORY,
      calibration: nobodyAsks,
      plan: async () => PLAN,
      today: async () => [],
      ...store,
    },
    publisher: new Publisher({ recorder: KEPT.recorder, boot: KEPT.boot, simulated: false }, "tidemark", "hall"),
    time_zone: "UTC",
    now: () => now,
    log: { warn: () => {}, error: () => {} },
    erasing: new Set<string>(),
    recorder: () => ({}),
  });
  const begin = (asked: object = {}) =>
    doors.ask(
      loop.id,
      { verb: "begin", args: { station: loop.id, trainee: "t-01", ...asked } },
      { performed_by: null, door: "mqtt" },
    );
  return { begin, loop, now };
}

it("a begin takes from the plan what it leaves out, and the record is asked for what comes of it", async () => {
  const queries: HistoryQuery[] = [];
  const history = async (query: HistoryQuery) => {
    queries.push(query);
    return NO_HISTORY;
  };
  const { begin, loop } = planned({ history, today: async () => [{ side: "left" }] });
  // The plan's loss is what their trainer decided: no first set of 20 % stands in its place.
  const result = { side: "right", style: "hold", fatigue_threshold: 0.5, planned: true, warnings: [] };
  const outcome = await begin();
  expect(outcome).toMatchObject({ ok: true, result: { ...result, setup: { seat: "4", pin: "8" } } });
  if (outcome.ok) beginResultSchema.parse(outcome.result);
  expect(loop.station.set?.path.facts.setup_notes).toEqual({ seat: "4", pin: "8" });
  expect(queries).toMatchObject([{ side: "right", style: "hold", setup: '{"pin":"8","seat":"4"}' }]);
  expect(await begin({ side: "left", fatigue_threshold: 0.3 })).toMatchObject({
    result: { side: "left", fatigue_threshold: 0.3, setup: { seat: "4", pin: "7" } },
  });
});

it("without a plan a begin says so, and nobody reads the day", async () => {
  const { begin } = planned({ plan: async () => null, today: nobodyAsks });
  expect(await begin({ style: "hold" })).toMatchObject({ result: { planned: false, setup: {}, side: null } });
});

it("too short a rest is said with both figures, and no more: the trainer decides", async () => {
  const at = (s: number) => new Date(planned({}).now.wall_ms - s * 1000).toISOString();
  const warnings = async (rested_s: number) => {
    const { begin } = planned({ history: async () => ({ ...NO_HISTORY, last_set_ended_at: at(rested_s) }) });
    const outcome = await begin();
    return (outcome as { result: { warnings: string[] } }).result.warnings;
  };
  expect(await warnings(45)).toEqual(["t-01 has rested 45 s since the last set; the plan says 120 s."]);
  expect(await warnings(120)).toEqual([]);
  // A clock that was set back.
  expect(await warnings(-30)).toEqual([]);
});

it("a plan's loss on a stack of weights is refused as one that was asked for", async () => {
  const { begin, loop } = planned({}, { station: { resistance: "stack" } });
  expect(await begin()).toMatchObject({ ok: false, error: { code: "not-suited" } });
  expect(loop.station.set).toBeNull();
});

it("the first eccentric sets stay short whatever the plan says", async () => {
  const plan: Plan = { ...PLAN, style: "eccentric-only", options: { effort_limit: 40 } };
  const { begin } = planned({ plan: async () => plan }, { station: { return_stroke: "unloaded" } });
  expect(await begin()).toMatchObject({ result: { options: { effort_limit: 10 }, fatigue_threshold: 0.5 } });
});

it.each<[string, Partial<DoorsOptions["store"]>]>([
  ["plan", { plan: () => Promise.reject(new Error("the disk is gone")) }],
  ["day", { today: () => Promise.reject(new Error("the disk is gone")) }],
])("a %s that cannot be read keeps nobody from training, and the record is read all the same", async (_what, store) => {
  const { begin } = planned({ ...store, history: async () => ({ ...NO_HISTORY, set_of_day: 4, sets_here: 3 }) });
  const outcome = await begin({ style: "hold" });
  expect(outcome).toMatchObject({
    result: { planned: false, fatigue_threshold: 0.4, warnings: [expect.stringMatching(/^The trainee's plan could/)] },
  });
});

it("plan and record together are waited for no longer than 5 s", async () => {
  vi.useFakeTimers();
  onTestFinished(() => void vi.useRealTimers());
  const from_ms = performance.now();
  const { station, now: ready } = readyBench();
  const now = () => ({ ...ready, ms: ready.ms + performance.now() - from_ms });
  const hangs = () => new Promise<never>(() => {});
  const slow = async () => {
    await new Promise((resolve) => setTimeout(resolve, 3000));
    return PLAN;
  };
  const record = recordFor(
    station,
    { station: "leg-press", trainee: "t-01" },
    { store: { plan: slow, today: async () => [], history: hangs }, time_zone: "UTC", now, log: { error: () => {} } },
  );
  let answered = false;
  void record.then(() => {
    answered = true;
  });
  await vi.advanceTimersByTimeAsync(4999);
  expect(answered).toBe(false);
  await vi.advanceTimersByTimeAsync(1);
  // What came in time counts.
  expect((await record).plan.setup).toEqual({ seat: "4", pin: "7" });
  expect((await record).warnings).toEqual(["The trainee's record could not be read: this set runs without it."]);
  expect(vi.getTimerCount()).toBe(0);
});
