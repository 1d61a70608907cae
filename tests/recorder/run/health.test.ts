/** What is wrong with a recorder, and to whom it is said. */
import { afterEach, beforeEach, describe, expect, it, test, vi } from "vitest";
import type { PresenceMessage } from "../../../protocol/messages/presence.ts";
import type { Store } from "../../../recorder/ports.ts";
import { reasonsAgainst, type Vitals } from "../../../recorder/run/health.ts";
import { HealthWatch } from "../../../recorder/run/health-watch.ts";
import { WriteTimes } from "../../../recorder/run/timed-store.ts";
import { endAll, subscriber, until } from "../mqtt/loopback.ts";
import { startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

const WELL: Vitals = {
  uptime_s: 90,
  clock_synced: false,
  event_loop: { p50_s: 0.001, p99_s: 0.01, max_s: 0.2 },
  memory: { rss_bytes: 9e7, heap_bytes: 3e7 },
  storage: { trouble: null, since: null, unsaved_sets: 0, unwritten: 0, checkpoints_failing: 0, slowest_write_s: 0.2 },
  disk: { free_bytes: 2e9, written_bytes: 1e6 },
  broker: { trouble: null, since: null, connected: true, dropped_live: 3, dropped_events: 1 },
  outbox: { waiting: 2, not_empty_since: "2026-11-25T08:00:00.000Z", not_empty_s: 20 },
  stations: { ready: ["row"], not_ready: ["press"] },
};
const since = "2026-11-25T08:00:00.000Z";

test.each<[string, Partial<Vitals>, readonly string[]]>([
  ["a station that is not ready is no fault of the recorder", {}, []],
  ["nothing known of the disk", { disk: { free_bytes: null, written_bytes: null } }, []],
  [
    "a disk that is nearly full",
    { disk: { free_bytes: 199_999_999, written_bytes: 0 } },
    ["The disk of the store has only 199 MB left: make space on it."],
  ],
  [
    "a write that takes long",
    { storage: { ...WELL.storage, slowest_write_s: 2 } },
    ["Writing to the store took 2.0 s: see what else uses its disk, or replace an old card."],
  ],
  ["what the store says", { storage: { ...WELL.storage, trouble: "The disk is full.", since } }, ["The disk is full."]],
  [
    "a program that stood still",
    { event_loop: { p50_s: 0, p99_s: 0.4, max_s: 0.5 } },
    ["The program stood still for 0.5 s: see what else runs on this box."],
  ],
  [
    "what the broker's side says",
    { broker: { ...WELL.broker, connected: false, trouble: "Nobody.", since } },
    ["Nobody."],
  ],
  [
    "a broker that does not take everything",
    { outbox: { waiting: 2, not_empty_since: since, not_empty_s: 600 } },
    ["The broker is there but does not take everything, 2 messages wait: see its log."],
  ],
  [
    "a broker that is away takes nothing, which is said already",
    {
      broker: { ...WELL.broker, connected: false, trouble: "Nobody.", since },
      outbox: { waiting: 2, not_empty_since: since, not_empty_s: 6000 },
    },
    ["Nobody."],
  ],
])("%s", (_what, change, sentences) => {
  expect(reasonsAgainst({ ...WELL, ...change }).map(({ sentence }) => sentence)).toEqual(sentences);
});

describe("watching over it", () => {
  beforeEach(() => void vi.useFakeTimers());
  afterEach(() => void vi.useRealTimers());

  function watch() {
    const lines: string[] = [];
    const outbox = { size: 0, hangs: false };
    const times = new WriteTimes(() => Date.now());
    let said = 0;
    const log = (_fields: object, message: string): void => void lines.push(message);
    const watching = new HealthWatch({
      store: { outboxSize: () => (outbox.hangs ? new Promise<never>(() => {}) : Promise.resolve(outbox.size)) },
      disk: async () => WELL.disk,
      times,
      now: () => ({ ms: Date.now(), wall_ms: Date.now(), clock_synced: true }),
      keeper: { unsaved: 0 },
      writes: { unwritten: 0 },
      loops: new Map(),
      bus: () => ({
        connected: () => true,
        dropped: () => ({ live: 0, events: 0 }),
        presenceChanged: () => {
          said += 1;
        },
      }),
      log: { info: log, warn: log },
    });
    return { watching, lines, outbox, times, said: () => said };
  }

  it("says a change of verdict, and at most once a minute how it is by then", async () => {
    const { watching, lines, said } = watch();
    expect(said()).toBe(0);
    watching.storage("The disk is full.");
    expect([said(), lines]).toEqual([1, ["The disk is full."]]);
    // Another sentence about the same is no other verdict.
    watching.storage("The disk is still full.");
    watching.storage(null);
    watching.storage("The disk is full.");
    watching.storage(null);
    expect(said()).toBe(1);
    await vi.advanceTimersByTimeAsync(49_000);
    expect(said()).toBe(1);
    await vi.advanceTimersByTimeAsync(30_000);
    expect(said()).toBe(2);
    expect(watching.status()).toMatchObject({ ok: true, reasons: [] });
    await vi.advanceTimersByTimeAsync(3_600_000);
    expect(said()).toBe(2);
    watching.stop();
    expect(vi.getTimerCount()).toBe(0);
  });

  it("says that a disk hangs while it hangs", async () => {
    const { watching, lines, outbox, times, said } = watch();
    outbox.hangs = true;
    void times.of({ checkpoint: () => new Promise(() => {}) } as unknown as Store).checkpoint([]);
    await vi.advanceTimersByTimeAsync(90_000);
    expect(lines).toEqual([expect.stringMatching(/^Writing to the store took \d+\.0 s: /)]);
    expect(said()).toBe(1);
    watching.stop();
  });

  it("knows since when", async () => {
    const { watching, outbox } = watch();
    const began = new Date().toISOString();
    watching.broker("Nobody.");
    outbox.size = 3;
    await vi.advanceTimersByTimeAsync(25_000);
    watching.broker("Nobody at all.");
    expect(watching.status()).toMatchObject({
      broker: { trouble: "Nobody at all.", since: began },
      outbox: { waiting: 3, not_empty_since: began, not_empty_s: 25 },
    });
    outbox.size = 0;
    watching.broker(null);
    await vi.advanceTimersByTimeAsync(10_000);
    expect(watching.status()).toMatchObject({
      broker: { trouble: null, since: null },
      outbox: { waiting: 0, not_empty_since: null, not_empty_s: 0 },
    });
    watching.stop();
  });
});

describe("how long writing takes", () => {
  function slow() {
    let now_ms = 0;
    const pending: { done(): void; fail(error: Error): void }[] = [];
    const store = {
      checkpoint: () => new Promise<void>((done, fail) => pending.push({ done: () => done(), fail })),
    } as unknown as Store;
    const times = new WriteTimes(() => now_ms);
    const pass = (ms: number): void => {
      now_ms += ms;
    };
    return { times, store: times.of(store), pending, pass };
  }

  it("counts what is not done yet, and forgets after the minute that follows", async () => {
    const { times, store, pending, pass } = slow();
    const work = store.checkpoint([]);
    pass(3000);
    expect(times.slowest_s).toBe(3);
    pending[0]?.done();
    await work;
    times.turn();
    expect(times.slowest_s).toBe(3);
    times.turn();
    expect(times.slowest_s).toBe(0);
  });

  it("counts checkpoints that fail until one does not, and hands every failure on", async () => {
    const { times, store, pending } = slow();
    for (const n of [1, 2]) {
      const work = store.checkpoint([]);
      pending.at(-1)?.fail(new Error("full"));
      await expect(work).rejects.toThrow("full");
      expect(times.checkpoints_failing).toBe(n);
    }
    const work = store.checkpoint([]);
    pending.at(-1)?.done();
    await work;
    expect(times.checkpoints_failing).toBe(0);
  });
});

describe("a recorder", () => {
  afterEach(async () => {
    await endAll();
    await stopAll();
  });

  it("answers with its health, says it in its presence, and in neither its will nor its goodbye", async () => {
    const running = await startGym(placed());
    const topic = "tidemark/paper-hall/recorder/paper-box/presence";
    const listening = await subscriber(running.port, topic);
    const newest = (): PresenceMessage | null => JSON.parse(listening.newest(topic) ?? "null");
    await until(() => expect(newest()).toMatchObject({ reason: "start", health: { ok: expect.any(Boolean) } }));
    await until(async () => {
      const status = await running.ask("status");
      expect(status).toMatchObject({
        result: {
          health: {
            disk: { free_bytes: expect.any(Number), written_bytes: expect.any(Number) },
            event_loop: { p50_s: expect.any(Number), max_s: expect.any(Number) },
            broker: { connected: true, trouble: null },
            storage: { trouble: null, unsaved_sets: 0, checkpoints_failing: 0 },
            stations: { ready: expect.arrayContaining(["leg-press"]) },
          },
        },
      });
    });
    await running.service.stop();
    await until(() => expect(newest()).toMatchObject({ reason: "stop", health: null }));
  });
});
