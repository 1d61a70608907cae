/** The loop and what it carries out, with a station in memory and a store to order. */
import { describe, expect, it, onTestFinished, vi } from "vitest";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { Outcome } from "../../../protocol/requests/response.ts";
import type { StationRequest } from "../../../protocol/requests/verbs.ts";
import type { CheckpointPart, Latched, Revising, SavedZero, SetToKeep, Store } from "../../../recorder/ports.ts";
import { checkpointOnce } from "../../../recorder/run/checkpointing.ts";
import { Keeper } from "../../../recorder/run/keeper.ts";
import { carryOut } from "../../../recorder/run/keeping.ts";
import { Publisher } from "../../../recorder/run/publisher.ts";
import { recover } from "../../../recorder/run/recover.ts";
import { StandingWrites } from "../../../recorder/run/standing-writes.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import { StorageAlarm } from "../../../recorder/run/storage-alarm.ts";
import { takingTurns } from "../../../recorder/run/turns.ts";
import type { Now, StationEffect, StationInput } from "../../../recorder/station/exchange.ts";
import { newStation } from "../../../recorder/station/state.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { joinInputLogs } from "../../../recorder/store/input-log.ts";
import {
  BEGINS_MS,
  COUNTS_PER_N,
  holdCurve,
  KEPT,
  KNOWN,
  record,
  stationConfiguration,
  ZERO_COUNTS,
} from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";

/** A disk that fails when told to. */
class Disk {
  full = false;
  readonly sets: SetToKeep[] = [];
  readonly parts: CheckpointPart[] = [];
  readonly records: CalibrationRecord[] = [];
  readonly zeros: SavedZero[] = [];
  readonly forgotten: string[] = [];
  readonly latches: (Latched | null)[] = [];
  readonly revisions: Revising[] = [];

  readonly store = {
    store_id: KEPT.store,
    keep: async (set: SetToKeep) => this.#written(this.sets, set, { ...set.message, set_seq: this.sets.length + 1 }),
    checkpoint: async (parts: readonly CheckpointPart[]) => {
      for (const part of parts) await this.#written(this.parts, part, undefined);
    },
    forget: async (set_id: string) => this.#written(this.forgotten, set_id, undefined),
    saveCalibration: async (made: CalibrationRecord) => this.#written(this.records, made, undefined),
    saveZero: async (_station: string, zero: SavedZero) => this.#written(this.zeros, zero, undefined),
    revise: async (revising: Revising) => {
      const kept = this.sets.find(({ message }) => message.set_id === revising.set_id);
      if (kept === undefined) return null;
      return this.#written(this.revisions, revising, { ...kept.message, ...revising.changes, revision: 2 });
    },
    tryWriting: async () => this.#written([], null, undefined),
    saveInspect: async (_station: string, latched: Latched | null) => this.#written(this.latches, latched, undefined),
  } as unknown as Store;

  async #written<T, R>(list: T[], what: T, result: R): Promise<R> {
    if (this.full) throw new StoreFailure("disk-full", "the disk is full; make space on it");
    list.push(what);
    return result;
  }
}

const QUIET = { info() {}, warn() {}, error() {} };
const settled = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

class LoopBench {
  readonly disk = new Disk();
  readonly board = new FakeBoard();
  readonly order: string[] = [];
  readonly loop: StationLoop;
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly keeper: Keeper;
  readonly alarm: StorageAlarm;
  readonly writes: StandingWrites;
  onSignal: (effect: StationEffect) => void = () => {};
  #us = 5_000_000;

  constructor() {
    const publisher = new Publisher({ recorder: KEPT.recorder, boot: KEPT.boot, simulated: false }, "tidemark", "hall");
    const log = QUIET;
    this.alarm = new StorageAlarm({
      tell: (trouble) => this.loop.take({ kind: "storage", trouble }),
      waiting: () => this.keeper.unsaved + this.writes.unwritten,
    });
    this.writes = new StandingWrites({ alarm: this.alarm, log });
    this.keeper = new Keeper({
      store: this.disk.store,
      kept: ({ set_id }) => this.order.push(`kept ${set_id.slice(-2)}`),
      unusable: () => {},
      putAside: async () => "nowhere",
      alarm: this.alarm,
      log,
    });
    const { keeper, writes } = this;
    const { recorder, boot } = KEPT;
    const now = (): Now => ({ ms: this.#us / 1000, wall_ms: BEGINS_MS + this.#us / 1000, clock_synced: true });
    const onRevised = ({ set_id }: SetMessage): void => void this.order.push(`revised ${set_id.slice(-2)}`);
    const late = { inTurn: takingTurns(), onRevised, now };
    const ports = { store: this.disk.store, keeper, writes, publisher, recorder, boot, log, ...late };
    this.loop = new StationLoop(newStation(stationConfiguration(), false), {
      now,
      signal: (effect) => {
        if (effect.do === "write") this.board.hear(effect.text);
        if (effect.do === "publish" && effect.topic === "state") this.order.push(`state ${effect.body["phase"]}`);
        this.onSignal(effect);
      },
      keep: (effect) => {
        this.order.push(effect.do);
        carryOut(this.loop, effect, ports);
      },
    });
    this.loops = new Map([[this.loop.id, this.loop]]);
    this.take({ kind: "calibration", record: record(), zero: null });
    this.board.out.push("");
    this.take({ kind: "opened" });
  }

  take(input: StationInput): void {
    this.loop.take(input);
    for (let text = this.board.out.shift(); text !== undefined; text = this.board.out.shift()) {
      this.loop.take({ kind: "line", text, arrived_at_us: this.#us });
    }
  }

  pull(lasts_s: number, force: (s: number) => number): this {
    for (let index = 1; index <= lasts_s * 80; index++) {
      this.#us += 12_500;
      this.board.pass(12_500);
      this.board.read(Math.round(ZERO_COUNTS + force(index / 80) * COUNTS_PER_N) + (index % 7));
      this.take({ kind: "tick" });
    }
    return this;
  }

  ask(verb: StationRequest["verb"], args: object = {}): Promise<Outcome> {
    const request = { verb, args: { station: "leg-press", ...args } } as StationRequest;
    return this.loop.ask({ request, by: null, door: "socket" }, (ask) => {
      if (verb === "begin")
        return { kind: "begin", ask, history: KNOWN, set_id: "01930000-0000-7000-8000-000000000001" };
      if (verb === "calibration-accept")
        return { kind: "accept", ask, calibration_id: "aaaaaaaa-0000-4000-8000-000000000001" };
      return { kind: "ask", ask };
    });
  }

  async begun(): Promise<this> {
    this.pull(3, () => 0);
    expect(await this.ask("begin", { style: "hold", fatigue_threshold: 0.4 })).toMatchObject({ ok: true });
    return this.pull(0.5, () => 0);
  }

  storageAlarm(): string | null {
    return this.loop.station.desk.alarms.find(({ code }) => code === "storage")?.detail ?? null;
  }
}

describe("the order of effects", () => {
  it("a set is said to be over, then stored, and heard of as kept after that", async () => {
    const bench = await new LoopBench().begun();
    bench.pull(8, holdCurve(1000, 3, 400));
    await settled();
    const end = bench.order.slice(bench.order.indexOf("state finished"));
    expect(end.filter((what) => what !== "log")).toEqual(["state finished", "keep", "kept 01"]);
  });

  it("an input that comes of an effect waits until the effects of the step are done", async () => {
    const bench = await new LoopBench().begun();
    let asked = false;
    const seen: string[] = [];
    bench.onSignal = (effect) => {
      if (effect.do !== "publish" || effect.topic !== "state") return;
      // A watcher that begins the next set as soon as this one is over.
      if (effect.body["phase"] === "finished" && !asked) {
        asked = true;
        void bench.ask("begin", { style: "hold" });
        seen.push(`asked, ${bench.order.filter((what) => what === "keep").length} kept`);
      }
      seen.push(effect.body["phase"] as string);
    };
    bench.pull(8, holdCurve(1000, 3, 400));
    expect(seen).toEqual(["working", "asked, 0 kept", "finished", "armed"]);
    const order = bench.order.filter((what) => what === "keep" || what.startsWith("state"));
    expect(order.slice(-3)).toEqual(["state finished", "keep", "state armed"]);
  });
});

/** Unloaded, loaded and checked: all that an accept wants. */
async function takePoints(bench: LoopBench): Promise<void> {
  const known = { relative_tolerance: 0.001 };
  for (const [verb, args, force_N] of [
    ["calibration-zero", {}, 0],
    ["calibration-load", { ...known, force_N: 1000 }, 1000],
    ["calibration-check", { ...known, force_N: 500, loading: "increasing" }, 500],
  ] as const) {
    const answer = bench.ask(verb, args);
    bench.pull(24, () => force_N);
    expect(await answer).toMatchObject({ ok: true });
  }
}

describe("a store that fails", () => {
  it("the stop is not held up, the set waits in memory, the alarm stands, and it is kept later", async () => {
    const bench = await new LoopBench().begun();
    bench.disk.full = true;
    bench.pull(8, holdCurve(1000, 3, 400));
    await settled();
    expect(bench.order).toContain("state finished");
    expect(bench.keeper.unsaved).toBe(1);
    expect(bench.storageAlarm()).toMatch(/1 finished set waits in memory: the disk is full/);
    bench.disk.full = false;
    await bench.keeper.stop();
    expect(bench.disk.sets.map(({ message }) => message.stop_reason)).toEqual(["hold-below-floor"]);
    expect(bench.storageAlarm()).toBeNull();
  });

  it("a calibration that cannot be kept leaves the old one in force, and is answered so", async () => {
    vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
    onTestFinished(() => void vi.useRealTimers());
    const bench = new LoopBench().pull(3, () => 0);
    await bench.ask("calibration-begin");
    await takePoints(bench);
    bench.disk.full = true;
    const accepting = bench.ask("calibration-accept");
    expect(await bench.ask("begin")).toMatchObject({ ok: false, error: { code: "busy" } });
    expect(await accepting).toMatchObject({
      ok: false,
      error: { code: "storage", message: expect.stringMatching(/old one stays in force.*disk is full/) },
    });
    expect(bench.loop.station.sensor.scale?.record.calibration_id).toBe(record().calibration_id);
    expect(bench.disk.records).toEqual([]);
    await settled();
    expect(bench.storageAlarm()).toMatch(/The calibration of leg-press could not be kept: the disk is full/);
    // Nothing is lost: when the disk is well the alarm goes by itself, and the same points are accepted.
    bench.disk.full = false;
    await vi.advanceTimersByTimeAsync(1000);
    expect(bench.storageAlarm()).toBeNull();
    expect(await bench.ask("calibration-accept")).toMatchObject({ ok: true });
    expect(bench.disk.records).toHaveLength(1);
    expect(await bench.ask("calibration-abandon")).toMatchObject({ ok: false, error: { code: "bad-request" } });
  });

  it("a calibration that is kept is in force before its answer comes", async () => {
    const bench = new LoopBench().pull(3, () => 0);
    await bench.ask("calibration-begin");
    await takePoints(bench);
    const accepted = bench.ask("calibration-accept");
    expect(bench.loop.station.sensor.scale?.record.calibration_id).toBe(record().calibration_id);
    expect(await accepted).toMatchObject({
      ok: true,
      result: { calibration_id: bench.disk.records[0]?.calibration_id },
    });
    expect(bench.loop.station.sensor.scale?.record).toEqual(bench.disk.records[0]);
  });

  it("an asked zero that could not be kept is kept by itself once the disk takes it, and the newest of two", async () => {
    vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
    onTestFinished(() => void vi.useRealTimers());
    const bench = new LoopBench().pull(3, () => 8);
    bench.disk.full = true;
    for (const force_N of [8, 12]) {
      const asked = bench.ask("zero");
      bench.pull(4, () => force_N);
      expect(await asked).toMatchObject({ ok: true });
      await settled();
    }
    expect(bench.storageAlarm()).toMatch(/The zero of leg-press could not be kept: the disk is full/);
    bench.disk.full = false;
    await vi.advanceTimersByTimeAsync(60_000);
    expect(bench.storageAlarm()).toBeNull();
    expect(bench.disk.zeros).toHaveLength(1);
    expect(bench.disk.zeros[0]?.asked_shift_counts).toBeCloseTo(12 * COUNTS_PER_N, -2);
  });

  it("where the zero stood after a set that waits in memory waits with it, and is a revision once it is kept", async () => {
    vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
    onTestFinished(() => void vi.useRealTimers());
    const bench = await new LoopBench().begun();
    bench.disk.full = true;
    bench.pull(8, holdCurve(1000, 3, 400)).pull(30, () => 2);
    await settled();
    expect(bench.order.filter((what) => what === "revise")).toHaveLength(1);
    expect(bench.storageAlarm()).toMatch(/1 finished set waits in memory: the disk is full/);
    bench.disk.full = false;
    await vi.advanceTimersByTimeAsync(60_000);
    expect(bench.order.slice(-2)).toEqual(["kept 01", "revised 01"]);
    const [revision] = bench.disk.revisions;
    expect(revision).toMatchObject({ performed_by: null, topic: "tidemark/hall/station/leg-press/set" });
    expect(Object.keys(revision?.changes ?? {})).toEqual(["zero_shift_N"]);
    expect(revision?.changes.zero_shift_N).toBeCloseTo(2, 1);
    expect(bench.storageAlarm()).toBeNull();
  });

  it("a revision that could not be kept is tried again until it is", async () => {
    vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
    onTestFinished(() => void vi.useRealTimers());
    const bench = await new LoopBench().begun();
    bench.pull(8, holdCurve(1000, 3, 400));
    await settled();
    bench.disk.full = true;
    bench.pull(30, () => 2);
    await settled();
    expect(bench.storageAlarm()).toMatch(/Where the zero stood after set .* could not be kept: the disk is full/);
    bench.disk.full = false;
    await vi.advanceTimersByTimeAsync(60_000);
    expect(bench.disk.revisions).toHaveLength(1);
    expect(bench.storageAlarm()).toBeNull();
  });

  it("a set that is put aside because the recorder goes takes no revision with it", async () => {
    const bench = await new LoopBench().begun();
    bench.disk.full = true;
    bench.pull(8, holdCurve(1000, 3, 400)).pull(30, () => 2);
    await settled();
    await Promise.all([bench.keeper.stop(), bench.writes.stop()]);
    bench.disk.full = false;
    await settled();
    expect(bench.disk.revisions).toEqual([]);
    expect(bench.writes.unwritten).toBe(0);
  });

  it("a checkpoint that failed comes again with the next: the log has no hole", async () => {
    const bench = await new LoopBench().begun();
    const ports = { store: bench.disk.store, alarm: bench.alarm, log: QUIET };
    const curve = holdCurve(1000, 20, 0);
    bench.pull(3, curve);
    await checkpointOnce(bench.loops, ports);
    bench.disk.full = true;
    bench.pull(3, () => 1000);
    await checkpointOnce(bench.loops, ports);
    expect(bench.storageAlarm()).toMatch(/Running sets/);
    bench.disk.full = false;
    bench.pull(3, () => 1000);
    await checkpointOnce(bench.loops, ports);
    expect(bench.storageAlarm()).toBeNull();
    expect(bench.disk.parts.map(({ part }) => part)).toEqual([0, 1]);
    const [first] = bench.disk.parts;
    if (first === undefined) throw new Error("no part");
    const log = joinInputLogs(bench.disk.parts.map((part) => part.log));
    const found = recover({ set_id: first.set_id, station: first.station, log }, KEPT);
    if (found.is !== "set") throw new Error(found.why);
    expect(found.set.message.duration_s).toBeCloseTo(9, 1);
    expect(found.set.message.quality.readings_lost).toBe(0);
  });

  it("nothing runs: nothing is checkpointed", async () => {
    const bench = new LoopBench().pull(3, () => 0);
    await checkpointOnce(bench.loops, { store: bench.disk.store, alarm: bench.alarm, log: QUIET });
    expect(bench.disk.parts).toEqual([]);
  });

  it("the latch of an overload, and what lifts it, go to the store", async () => {
    const bench = new LoopBench().pull(3, () => 0).pull(0.2, () => 5200);
    bench.pull(1, () => 0);
    await bench.ask("inspected");
    await settled();
    expect(bench.disk.latches).toEqual([expect.objectContaining({ detail: expect.stringMatching(/5200 N/) }), null]);
  });

  it("a set that came to nothing is forgotten", async () => {
    const bench = await new LoopBench().begun();
    expect(await bench.ask("end")).toMatchObject({ ok: true, result: { is_set: false, stop_reason: null } });
    await settled();
    expect(bench.disk.forgotten).toEqual(["01930000-0000-7000-8000-000000000001"]);
    expect(bench.disk.sets).toEqual([]);
  });
});
