import { expect, it, onTestFinished, vi } from "vitest";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import type { History } from "../../../recorder/ports.ts";
import { doorsOf } from "../../../recorder/run/doors.ts";
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
