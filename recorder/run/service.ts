/**
 * The recorder, joined together: store, broker, stations, control. Starts in the order in which things need each other,
 * runs until it is told to stop, and leaves within five seconds, keeping whatever ran.
 */
import { randomUUID } from "node:crypto";
import type { Configuration } from "../configuration/schema.ts";
import { createDispatcher, type Dispatch } from "../control/dispatcher.ts";
import type { MqttDoor } from "../control/mqtt-door.ts";
import type { WatchEvent } from "../control/ports.ts";
import { openSockets } from "../control/sockets.ts";
import type { Store } from "../ports.ts";
import type { Link, OpenPort } from "../serial/link.ts";
import { boardHomes, newStation } from "../station/state.ts";
import { openStore } from "../store/store.ts";
import { type Announcing, startAnnouncing } from "./announcing.ts";
import { atTheMachine } from "./at-the-machine.ts";
import { BackDating } from "./back-dating.ts";
import { checkpointOnce, startCheckpointing } from "./checkpointing.ts";
import { type HostClock, hostClock } from "./clock.ts";
import { type Disk, lookAtDisk } from "./disk.ts";
import { openDoorAtBroker } from "./door-at-broker.ts";
import { doorsOf } from "./doors.ts";
import { HealthWatch } from "./health-watch.ts";
import { Keeper } from "./keeper.ts";
import { carryOut } from "./keeping.ts";
import { inRoom, type ServiceLog } from "./log.ts";
import { Publisher } from "./publisher.ts";
import { forgetAside, putAside, setsAside } from "./put-aside.ts";
import { recordsOf } from "./records.ts";
import { curveOf } from "./replay.ts";
import { Running } from "./running.ts";
import { StandingWrites } from "./standing-writes.ts";
import { linkOf } from "./station-link.ts";
import { StationLoop } from "./station-loop.ts";
import { StorageAlarm } from "./storage-alarm.ts";
import { takeUp } from "./take-up.ts";
import { WriteTimes } from "./timed-store.ts";
import { VERSION } from "./version.ts";
import { volatileDisk } from "./volatile-disk.ts";

export interface ServiceOptions {
  readonly configuration: Configuration;
  readonly simulated: boolean;
  /** Absent: serial ports of this machine. */
  readonly openPort?: OpenPort;
  readonly log: ServiceLog;
  /** Absent: this machine's. */
  readonly clock?: HostClock;
  /** Prepares a new store before anything reads it; the simulated gym brings its calibrations so. */
  readonly prepare?: (store: Store) => Promise<void>;
}

export interface Service {
  /** Where the broker is, for people. */
  readonly broker: string;
  readonly dispatch: Dispatch;
  watch(listener: (event: WatchEvent) => void): () => void;
  /** Resolves when every finished set is kept and the broker has taken it. */
  settled(): Promise<void>;
  /** Resolves, with why in one sentence, when the recorder cannot go on. */
  readonly broken: Promise<string>;
  stop(): Promise<void>;
}

export type Started =
  | { readonly ok: true; readonly service: Service }
  | { readonly ok: false; readonly message: string };

const TICK_MS = 50;
/** How long each part may take to stop; together under five seconds. The broker's goodbye alone may take 1.4 s. */
const WITHIN_MS = { stations: 100, lines: 400, control: 400, keeping: 900, broker: 1500, store: 1500 };

/** Whatever keeps it from starting is one sentence, and nothing is left running then. */
export async function startService(options: ServiceOptions): Promise<Started> {
  const running = new Running(options.log);
  try {
    return { ok: true, service: await join(options, running) };
  } catch (error) {
    await running.stop();
    return { ok: false, message: error instanceof Error ? error.message : String(error) };
  }
}

async function join(options: ServiceOptions, running: Running): Promise<Service> {
  const { configuration, simulated, log } = options;
  const { recorder, site, time_zone } = configuration;
  const clock = options.clock ?? hostClock();
  const boot = randomUUID();
  const facts = { recorder, boot, simulated };
  const since = new Date(clock.now().wall_ms).toISOString();
  let broke: (why: string) => void = () => {};
  const broken = new Promise<string>((resolve) => {
    broke = resolve;
  });
  const file = await openStore({ path: configuration.store.path, onLost: (failure) => broke(failure.message) });
  running.stopWith("The store", WITHIN_MS.store, () => file.close());
  if (file.opened_with !== null) log.warn({ room: "store" }, file.opened_with);
  // The simulated gym's is thrown away anyhow.
  const fleeting = simulated ? null : await volatileDisk(configuration.store.path);
  if (fleeting !== null) log.warn({ room: "store" }, fleeting);
  await options.prepare?.(file);
  const times = new WriteTimes(() => performance.now());
  const store = times.of(file);

  const loops = new Map<string, StationLoop>();
  const links = new Map<string, Link>();
  const all = (take: (loop: StationLoop) => void): void => {
    for (const loop of loops.values()) take(loop);
  };
  const publisher = new Publisher(facts, configuration.broker?.root ?? "tidemark", site);
  let announcing: Announcing | null = null;
  let unusable: string | null = null;
  let atBroker: MqttDoor | null = null;
  const alarm: StorageAlarm = new StorageAlarm({
    tell(trouble) {
      all((loop) => loop.take({ kind: "storage", trouble }));
      health.storage(trouble);
    },
    waiting: () => keeper.unsaved + writes.unwritten,
  });
  const writes = new StandingWrites({ alarm, log });
  const keeper = new Keeper({
    store,
    kept(message) {
      publisher.kept(message.station, message);
      announcing?.wake();
      dates.kept(message);
      // Left behind, it would be tried again at the next start, and change nothing.
      void forgetAside(configuration.store.path, message.set_id).catch(() => {});
    },
    putAside: (set) => putAside(configuration.store.path, set),
    unusable(why) {
      unusable ??= why;
    },
    alarm,
    log,
  });
  const dates = new BackDating({
    store,
    writes,
    topic: (station) => publisher.topic(station, "set"),
    revised(set) {
      publisher.kept(set.station, set);
      loops.get(set.station)?.take({ kind: "revised", set });
      announcing?.wake();
    },
    log,
  });
  const dated: Pick<Keeper, "keep"> = {
    keep(set) {
      dates.ended(set.message, clock.now());
      keeper.keep(set);
    },
  };
  const { now } = clock;
  const disk = (): Promise<Disk> => lookAtDisk(configuration.store.path);
  const measured = { store, disk, times, keeper, writes, loops, bus: () => announcing?.bus ?? null };
  const health: HealthWatch = new HealthWatch({ ...measured, now, log: inRoom(log, "health") });
  running.stopWith("The watch over health", WITHIN_MS.stations, async () => health.stop());
  const about = (): object => {
    const broker = { connected: announcing?.bus.connected() ?? false, unheard_requests: atBroker?.unheard() ?? {} };
    const own = { recorder, site, version: VERSION, boot, since, store: store.store_id, simulated };
    return { ...own, broker, unsaved_sets: keeper.unsaved, health: health.status() };
  };
  const doors = doorsOf({ loops, store, publisher, time_zone, now, log, recorder: about });
  const wake = (): void => announcing?.wake();
  const records = recordsOf({ loops, store, publisher, wake, time_zone, now: clock.now, log });
  const dispatch = createDispatcher({ stations: doors, store, records, curveOf, log: inRoom(log, "control") });
  const homes = boardHomes(configuration.station);
  for (const station of configuration.station) {
    const loop: StationLoop = new StationLoop(newStation(station, simulated, homes), {
      now: clock.now,
      signal(effect, now) {
        if (effect.do === "publish") publisher.publish(station.id, effect.topic, effect.body, now);
        else if (effect.do === "write") links.get(station.id)?.write(effect.text);
        else if (effect.do === "expect-period") links.get(station.id)?.expectPeriod(effect.period_s);
        else void atTheMachine(loop, effect, { dispatch, store, log });
      },
      keep: (effect) => carryOut(loop, effect, { store, keeper: dated, writes, publisher, recorder, boot, log }),
    });
    loops.set(station.id, loop);
  }
  // Before the broker is told anything: a second recorder on the same sockets must be refused without having taken the
  // first one's name there. Whoever asks this early is answered once the stations are what they were.
  let begin: () => void = () => {};
  const begun = new Promise<void>((resolve) => {
    begin = resolve;
  });
  const opened = await openSockets({
    ...configuration.control,
    dispatch: (request) => begun.then(() => dispatch(request)),
    log: inRoom(log, "control"),
  });
  if (!opened.ok) throw new Error(opened.message);
  running.stopWith("Control", WITHIN_MS.control, () => opened.sockets.close());

  const started = await startAnnouncing({
    configuration,
    facts,
    store,
    publisher,
    now: clock.now,
    log: inRoom(log, "mqtt"),
    health: () => health.brief(),
    onStatus({ alarm, trouble }) {
      all((loop) => {
        for (const code of ["not-authorised", "recorder-conflict"] as const) {
          loop.take({ kind: "announcing", code, trouble: alarm === code ? trouble : null });
        }
      });
      health.broker(trouble);
    },
  });
  if (!started.ok) throw new Error(started.message);
  announcing = started.announcing;
  running.stopWith("The broker's side", WITHIN_MS.broker, () => started.announcing.stop());

  // Only now: what the stations say of themselves at once has somewhere to go.
  running.stopWith("Keeping", WITHIN_MS.keeping, async () => {
    await Promise.all([keeper.stop(), writes.stop()]);
  });
  const aside = await setsAside(configuration.store.path);
  await takeUp(loops, { store, aside, keeper, publisher, recorder, boot, log });
  announcing.wake();
  begin();

  for (const { id, serial_port } of configuration.station) {
    const loop = loops.get(id);
    if (loop !== undefined) links.set(id, linkOf(loop, serial_port, options.openPort));
  }
  running.stopWith("The lines", WITHIN_MS.lines, async () => {
    await Promise.all([...links.values()].map((link) => link.close()));
  });
  const ticking = setInterval(() => {
    all((loop) => loop.take({ kind: "tick" }));
    dates.look(clock.now());
    // Nobody's set is cut short for the store's sake.
    if (unusable !== null && [...loops.values()].every((loop) => loop.checkpoint() === null)) broke(unusable);
  }, TICK_MS);
  const stopCheckpointing = startCheckpointing(loops, { store, alarm, log });
  running.stopWith("The stations", WITHIN_MS.stations, async () => {
    clearInterval(ticking);
    stopCheckpointing();
    // One commit for all of them, ahead of a commit each: on a slow disk there may be no time for those.
    void checkpointOnce(loops, { store, alarm, log });
    all((loop) => loop.take({ kind: "stopping" }));
  });
  const { bus } = announcing;
  const door = openDoorAtBroker({ configuration, root: publisher.root, facts, bus, dispatch, now: clock.now, log });
  atBroker = door;
  running.stopWith("The door at the broker", WITHIN_MS.stations, async () => door.close());

  return {
    broker: announcing.url,
    dispatch,
    watch: (listener) => publisher.watch(undefined, listener),
    broken,
    async settled() {
      while (keeper.unsaved > 0 || (await store.outboxSize()) > 0) await pause(20);
    },
    stop: () => running.stop(),
  };
}

const pause = (for_ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, for_ms));
