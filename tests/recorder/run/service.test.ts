/** The recorder as it runs, joined together: store, broker, sockets, and a simulated gym on the lines, flat out. */
import { fork } from "node:child_process";
import { once } from "node:events";
import { existsSync } from "node:fs";
import { type AddressInfo, createServer } from "node:net";
import { dirname } from "node:path";
import { fileURLToPath } from "node:url";
import { DatabaseSync } from "@photostructure/sqlite";
import { afterEach, describe, expect, it, onTestFinished, vi } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { SetsPage } from "../../../recorder/ports.ts";
import { simulate } from "../../../recorder/run/simulate.ts";
import { flatOut } from "../../../recorder/simulated-gym/pace.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { openStore } from "../../../recorder/store/store.ts";
import { messageOfTopic, validateMessage } from "../../protocol/messages/validate.ts";
import { endAll, type Subscriber, subscriber, until } from "../mqtt/loopback.ts";
import { midSet, SILENT, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(async () => {
  await endAll();
  await stopAll();
});

const STATIONS = ["leg-press", "knee-extension", "pull-down"] as const;
const topic = (station: string, name: string): string => `tidemark/paper-hall/station/${station}/${name}`;
const newest = (listening: Subscriber, name: string): Record<string, unknown> =>
  JSON.parse(listening.newest(name) ?? "null");
describe("one day of the simulated gym", () => {
  it("three sets end by themselves for the right reasons, are kept, and reach whoever subscribed", async () => {
    const running = await startGym(placed());
    const listening = await subscriber(running.port, "tidemark/#");
    const day = running.day();
    await day;
    await running.service.settled();

    const expected = {
      "leg-press": {
        style: "continuous",
        stop_reason: "effort-below-floor",
        decided_by: "concentric",
        trainee: "otter-14",
      },
      "knee-extension": { style: "hold", stop_reason: "hold-below-floor", decided_by: "isometric", trainee: "wren-21" },
      "pull-down": {
        style: "eccentric-only",
        stop_reason: "effort-below-floor",
        decided_by: "any",
        trainee: "ibex-03",
      },
    } as const;
    const stored = await running.ask("sets");
    if (!stored.ok) throw new Error(stored.error.message);
    const page = stored.result as SetsPage;
    for (const station of STATIONS) {
      const kept = page.sets.find((set) => set.station === station);
      expect(kept).toMatchObject({ ...expected[station], reached_threshold: true, cut_short: false, simulated: true });
      // What is sent is what is stored, byte for byte, and the newest set is retained beside it.
      await until(() => {
        expect(listening.newest(topic(station, "set"))).toBe(JSON.stringify(kept));
        expect(listening.newest(topic(station, "latest-set"))).toBe(JSON.stringify(kept));
      });
      // Where the station came to rest before it was closed, a revision says where its zero stood, and nothing else.
      const sent = listening.payloads(topic(station, "set")).map((payload) => JSON.parse(payload) as SetMessage);
      const [first, second] = sent;
      expect(sent.map(({ revision }) => revision)).toEqual(second === undefined ? [1] : [1, 2]);
      expect(first?.zero_shift_N).toBeNull();
      if (second === undefined) continue;
      const { set_seq, zero_shift_N } = second;
      expect(second).toEqual({ ...first, revision: 2, set_seq, zero_shift_N });
      // 10 d of its largest cell.
      expect(Math.abs(zero_shift_N ?? Number.NaN)).toBeLessThan(12);
    }

    // Every message of every kind is there, valid (the subscriber holds each to its schema), and says what it is.
    const kinds = new Set(listening.heard.map(({ topic: name }) => messageOfTopic(name)));
    for (const kind of ["live", "state", "effort", "set", "latest-set", "sensor", "presence"] as const) {
      expect(kinds).toContain(kind);
    }
    for (const { topic: name, payload } of listening.heard) {
      if (payload !== "") expect(JSON.parse(payload), name).toMatchObject({ simulated: true, recorder: "paper-box" });
    }

    // `state` says that a set is over, `set` that it is kept: in that order, at the subscriber too.
    for (const station of STATIONS) {
      const finished = listening.heard.findIndex(
        ({ topic: name, payload }) => name === topic(station, "state") && payload.includes('"phase":"finished"'),
      );
      const kept = listening.heard.findIndex(({ topic: name }) => name === topic(station, "set"));
      expect(finished).toBeGreaterThanOrEqual(0);
      expect(kept).toBeGreaterThan(finished);
    }

    // Whoever comes late gets what is retained: one of each, and nothing else at once.
    const late = await subscriber(running.port, "tidemark/#");
    await until(() => {
      for (const station of STATIONS) {
        for (const name of ["state", "sensor", "latest-set"]) expect(late.newest(topic(station, name))).toBeDefined();
      }
      expect(late.newest("tidemark/paper-hall/recorder/paper-box/presence")).toBeDefined();
    });
    expect(late.heard.filter(({ retain, topic: name }) => retain && /\/(set|live|effort)$/.test(name))).toEqual([]);
  });

  it("a station nobody has used yet has its state and sensor at the broker", async () => {
    const running = await startGym(placed());
    const listening = await subscriber(running.port, "tidemark/#");
    await until(() => {
      for (const station of STATIONS) {
        expect(newest(listening, topic(station, "state"))).toMatchObject({ phase: "idle" });
        expect(newest(listening, topic(station, "sensor"))).toMatchObject({ ready: true });
      }
    });
  });

  it("`--once` runs to its end by itself and leaves nothing behind", async () => {
    const said: string[] = [];
    const sets: SetMessage[] = [];
    const show = ({ topic: name, message }: { topic: string; message: object }): void => {
      expect(validateMessage(name as never, message)).toEqual([]);
      if (name === "set" && (message as SetMessage).revision === 1) sets.push(message as SetMessage);
    };
    const stopped = new AbortController().signal;
    expect(await simulate({ once: true, log: SILENT, show, say: (line) => said.push(line), stopped })).toBe(0);
    expect(sets.map(({ station }) => station).sort()).toEqual([...STATIONS].sort());
    expect(said[0]).toMatch(/simulated: true/);
  });
});

it("a station is calibrated by its verbs, as fast as its readings come, and the record is in force and kept", async () => {
  const configuration = placed();
  const running = await startGym(configuration);
  const station = "knee-extension";
  await running.next(
    ({ topic: name, station: at, message }) =>
      name === "live" && at === station && (message as { force_N: number | null }).force_N !== null,
  );
  const begun = await running.ask("calibration-begin", { station, performed_by: "tech-1" });
  expect(begun).toMatchObject({ ok: true });
  const busy = { ok: false, error: { code: "busy", message: expect.stringMatching(/tech-1/) } };
  expect(await running.ask("begin", { station, trainee: "wren-21" })).toMatchObject(busy);
  expect(await running.ask("calibration-zero", { station })).toMatchObject({ ok: true });
  // A load of 500 N: a limb that rests on the lever and does nothing.
  const load = trainee("plate", 500, { F_per_s: 0.01, R_per_s: 0.001, rest_multiplier: 15 }, { style: "hold" });
  running.gym.station(station).sit({ ...load, resting_force_N: 500 });
  const loaded = await running.ask("calibration-load", { station, force_N: 500, relative_tolerance: 0.001 });
  expect(loaded).toMatchObject({ ok: true, result: { force_N: 500 } });
  const unchecked = await running.ask("calibration-accept", { station });
  expect(unchecked).toMatchObject({ ok: false, error: { message: expect.stringMatching(/No check load was hung/) } });
  running.gym.station(station).sit({ ...load, resting_force_N: 250 });
  const lighter = { station, force_N: 250, relative_tolerance: 0.001, loading: "increasing" };
  const checked = await running.ask("calibration-check", lighter);
  expect(checked).toMatchObject({ ok: true, result: { when: "as-left", force_N: 250, warnings: [] } });
  const accepted = await running.ask("calibration-accept", { station, note: "in the service" });
  if (!accepted.ok) throw new Error(accepted.error.message);
  const { calibration_id } = accepted.result as { calibration_id: string };
  expect(await running.ask("status", { station })).toMatchObject({
    result: { stations: [{ sensor: { calibration_id } }] },
  });
  const asked = await running.ask("calibrations", { station });
  expect(asked).toMatchObject({ result: { in_force: calibration_id } });
  await running.service.stop();
  const again = await startGym(configuration, false);
  expect(await again.ask("status", { station })).toMatchObject({
    result: { stations: [{ sensor: { calibration_id } }] },
  });
});

describe("stopping in the middle of a set", () => {
  it("keeps it as interrupted within five seconds, and announces it at the next start", async () => {
    const configuration = placed();
    const running = await startGym(configuration);
    const set_id = await midSet(running);
    const asked_ms = performance.now();
    await running.service.stop();
    expect(performance.now() - asked_ms).toBeLessThan(5000);
    const store = await openStore({ path: configuration.store.path });
    const kept = await store.set(set_id);
    expect(kept?.message).toMatchObject({
      stop_reason: "interrupted",
      cut_short: true,
      trainee: "wren-21",
      set_seq: 1,
    });
    expect(await store.unfinished()).toEqual([]);
    await store.close();

    const again = await startGym(configuration, false);
    const listening = await subscriber(again.port, "tidemark/#");
    await again.service.settled();
    await until(() => {
      expect(newest(listening, topic("knee-extension", "latest-set"))).toMatchObject({
        set_id,
        stop_reason: "interrupted",
      });
      expect(newest(listening, topic("knee-extension", "state"))).toMatchObject({ last_ended_at: kept?.message.at });
    });
  });

  it("says goodbye: presence is offline on purpose", async () => {
    const running = await startGym(placed());
    const listening = await subscriber(running.port, "tidemark/#");
    const presence = "tidemark/paper-hall/recorder/paper-box/presence";
    await until(() => expect(newest(listening, presence)).toMatchObject({ online: true, reason: "start" }));
    await running.service.stop();
    expect(newest(listening, presence)).toMatchObject({ online: false, reason: "stop" });
  });
});

describe("a start after a death", () => {
  it("the set that was running is kept as interrupted, as far as it had been written down", async () => {
    const configuration = placed();
    const child = fork(
      fileURLToPath(new URL("./killed-recorder.ts", import.meta.url)),
      [dirname(configuration.store.path)],
      {
        execArgv: ["--import", import.meta.resolve("tsx")],
        stdio: ["ignore", "ignore", "inherit", "ipc"],
      },
    );
    onTestFinished(() => void child.kill("SIGKILL"));
    const [set_id] = (await once(child, "message")) as [string];
    // Killed once its first checkpoint is on the disk.
    await vi.waitFor(() => expect(partsOf(configuration.store.path)).toBe(1), { timeout: 15_000, interval: 50 });
    child.kill("SIGKILL");
    await once(child, "exit");

    const again = await startGym(configuration, false);
    const listening = await subscriber(again.port, "tidemark/#");
    await again.service.settled();
    await until(() => {
      const shown = newest(listening, topic("knee-extension", "latest-set"));
      expect(shown).toMatchObject({ set_id, stop_reason: "interrupted", cut_short: true, reached_threshold: false });
    });
    const kept = newest(listening, topic("knee-extension", "latest-set")) as unknown as SetMessage;
    expect(kept.best_force_N).toBeGreaterThan(300);
    expect(kept.duration_s).toBeGreaterThan(2);
    expect(partsOf(configuration.store.path)).toBe(0);
  });
});

/** Checkpoints of running sets in a store, looked at from outside. */
function partsOf(path: string): number {
  const database = new DatabaseSync(path, { readOnly: true });
  try {
    const row = database.prepare("SELECT count(*) AS parts FROM running_part").get() as { parts: number };
    return row.parts;
  } finally {
    database.close();
  }
}

it("a start takes up what stood: the zero, and the latch of a load path until somebody has inspected it", async () => {
  const configuration = placed();
  const before = await startGym(configuration);
  await before.service.stop();
  const store = await openStore({ path: configuration.store.path });
  const [knee, press] = ["knee-extension", "leg-press"];
  const inForce = await store.calibrationInForce(knee);
  if (inForce === null) throw new Error("no calibration");
  const shift_counts = Math.round(3 * inForce.counts_per_N);
  await store.saveZero(knee, {
    calibration_id: inForce.calibration_id,
    shift_counts,
    asked_shift_counts: shift_counts,
    at: "2026-11-23T16:00:00.000Z",
    cause: "asked",
    performed_by: null,
  });
  const moved = { since: "2026-11-23T16:00:00.000Z", detail: "Zeroed 30 N away from the former zero." };
  await store.saveZeroMoved(knee, { calibration_id: inForce.calibration_id, ...moved });
  const latched = { since: "2026-11-23T17:00:00.000Z", detail: "The force reached 7000 N." };
  await store.saveInspect(press, latched);
  await store.close();

  const again = await startGym(configuration, false);
  const status = await again.ask("status", { station: knee });
  const alarms = [{ code: "zero-moved", ...moved, latched: true }];
  expect(status).toMatchObject({ ok: true, result: { stations: [{ sensor: { zero_shift_N: 3, alarms } }] } });
  expect(await again.ask("inspected", { station: knee, performed_by: "tech-1" })).toMatchObject({ ok: true });
  const refused = { ok: false, error: { code: "not-permitted", message: latched.detail } };
  await until(async () => expect(await again.ask("begin", { station: press })).toMatchObject(refused));
  expect(await again.ask("inspected", { station: press, performed_by: "tech-1" })).toMatchObject({ ok: true });
  await again.service.stop();
  const looked = await openStore({ path: configuration.store.path });
  expect(await looked.inspect(press)).toBeNull();
  expect(await looked.zero(knee)).not.toHaveProperty("moved");
  await looked.close();
});

it("a start that fails while a set cannot be kept leaves nothing alive: the process ends", async () => {
  const configuration = placed();
  const child = fork(
    fileURLToPath(new URL("./failing-recorder.ts", import.meta.url)),
    [dirname(configuration.store.path)],
    {
      execArgv: ["--import", import.meta.resolve("tsx")],
      stdio: ["ignore", "ignore", "inherit", "ipc"],
    },
  );
  onTestFinished(() => void child.kill("SIGKILL"));
  const exited = once(child, "exit");
  const [said] = await once(child, "message");
  // Tried when it was taken up, and once more when it was told to stop.
  expect(said).toEqual({ message: "this machine has no serial ports at all", tries: 2 });
  expect(await exited).toEqual([0, null]);
});

it("a store that hangs holds up the end for less than five seconds, and what hung is said", async () => {
  const configuration = placed();
  const running = await startGym(configuration, true, flatOut(), (store) => {
    const never = (): Promise<never> => new Promise(() => {});
    const { close } = store;
    onTestFinished(() => close());
    Object.assign(store, { keep: never, saveZero: never, sent: never, outbox: never, close: never });
  });
  await midSet(running);
  const asked_ms = performance.now();
  await running.service.stop();
  expect(performance.now() - asked_ms).toBeLessThan(5000);
  expect(running.errors.filter((line) => / did not stop within /.test(line))).toEqual([
    "Keeping did not stop within 900 ms.",
    "The broker's side did not stop within 1500 ms.",
    "The store did not stop within 1500 ms.",
  ]);
});

it("a recorder that cannot start says why, and lets go of everything", async () => {
  const configuration = placed();
  const running = await startGym(configuration);
  await expect(startGym(configuration, false)).rejects.toThrow(/another recorder is running/);
  await running.service.stop();
  const again = await startGym(configuration, false);
  expect(await again.ask("status")).toMatchObject({ ok: true, result: { recorder: "paper-box", unsaved_sets: 0 } });
});

it("a second recorder on the sockets of the first is refused before it has said a word to the broker", async () => {
  const configuration = placed();
  await startGym(configuration);
  const callers: string[] = [];
  const broker = createServer((socket) => {
    callers.push("a recorder");
    socket.destroy();
  }).listen(0, "127.0.0.1");
  onTestFinished(() => void broker.close());
  await once(broker, "listening");
  const { port } = broker.address() as AddressInfo;
  const elsewhere = {
    ...placed(),
    broker: { root: "tidemark", url: `mqtt://127.0.0.1:${port}` },
  };
  await expect(startGym({ ...elsewhere, control: configuration.control })).rejects.toThrow(/running here already/);
  const { socket, service_socket } = configuration.control;
  expect([existsSync(socket), existsSync(service_socket)]).toEqual([true, true]);
  expect(callers).toEqual([]);
});
