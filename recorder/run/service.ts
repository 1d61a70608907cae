/**
 * The recorder, joined together: store, broker, stations, control. Starts in the order in which things need each other,
 * runs until it is told to stop, and leaves within five seconds, keeping whatever ran.
 */
import { randomUUID } from "node:crypto";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Configuration } from "../configuration/schema.ts";
import { createDispatcher, type Dispatch } from "../control/dispatcher.ts";
import type { MqttDoor } from "../control/mqtt-door.ts";
import type { WatchEvent } from "../control/ports.ts";
import { openSockets } from "../control/sockets.ts";
import type { Bus } from "../mqtt/bus-port.ts";
import type { SetToKeep, Store } from "../ports.ts";
import type { OpenPort } from "../serial/link.ts";
import { instant } from "../station/exchange.ts";
import { within } from "../within.ts";
import { startAnnouncing } from "./announcing.ts";
import { openArchive } from "./archive.ts";
import { atTheMachine } from "./at-the-machine.ts";
import { careOf } from "./care.ts";
import { checkpointOnce, startCheckpointing } from "./checkpointing.ts";
import { type HostClock, hostClock } from "./clock.ts";
import { type Disk, lookAtDisk } from "./disk.ts";
import { openDoorAtBroker } from "./door-at-broker.ts";
import { doorsOf } from "./doors.ts";
import { erasuresOf, goOnErasing, takeUpErasures } from "./erasures.ts";
import { Floor } from "./floor.ts";
import { HealthWatch } from "./health-watch.ts";
import { carryOut } from "./keeping.ts";
import { inRoom, type ServiceLog } from "./log.ts";
import { Publisher } from "./publisher.ts";
import { recordsOf } from "./records.ts";
import { curveOf } from "./replay.ts";
import { Running } from "./running.ts";
import { takeUp } from "./take-up.ts";
import { takingTurns } from "./turns.ts";
import { VERSION } from "./version.ts";

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
  /** Resolves when every finished set and what was learnt of it are kept, and the broker has taken them. */
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
const WITHIN_MS = { stations: 100, care: 200, lines: 400, control: 400, keeping: 900, broker: 1500, store: 1500 };

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
  const { path } = configuration.store;
  const { now } = options.clock ?? hostClock();
  const boot = randomUUID();
  const facts = { recorder, boot, simulated };
  const since = instant(now());
  let broke: (why: string) => void = () => {};
  const broken = new Promise<string>((resolve) => {
    broke = resolve;
  });
  let bus: Bus | null = null;
  let atBroker: MqttDoor | null = null;

  const publisher = new Publisher(facts, configuration.broker?.root ?? "tidemark", site);
  const onRevised = (set: SetMessage): void => {
    publisher.kept(set);
    floor.loops.get(set.station)?.take({ kind: "revised", set });
  };
  const archive = await openArchive({
    path,
    simulated,
    prepare: options.prepare,
    publisher,
    now,
    onRevised,
    onTrouble(trouble) {
      floor.all((loop) => loop.take({ kind: "storage", trouble }));
      health.storage(trouble);
    },
    onLost: broke,
    log,
  });
  running.stopWith("The store", WITHIN_MS.store, () => archive.close());
  const { store, keeper, writes, times, alarm } = archive;

  const inTurn = takingTurns();
  const keeping = { store, keeper, writes, publisher, recorder, boot, inTurn, onRevised, now, log };
  const floor: Floor = new Floor(configuration.station, simulated, {
    now,
    publisher,
    atMachine: (loop, effect) => void atTheMachine(loop, effect, { dispatch, store, log }),
    keep: (loop, effect) => carryOut(loop, effect, keeping),
  });
  const { loops } = floor;
  const disk = (): Promise<Disk> => lookAtDisk(path);
  const measured = { store, disk, times, keeper, writes, loops, bus: () => bus };
  const health: HealthWatch = new HealthWatch({ ...measured, now, log: inRoom(log, "health") });
  running.stopWith("The watch over health", WITHIN_MS.stations, async () => health.stop());

  const about = (): object => {
    const broker = { connected: bus?.connected() ?? false, unheard_requests: atBroker?.unheard() ?? {} };
    const own = { recorder, site, version: VERSION, boot, since, store: store.store_id, simulated };
    return { ...own, broker, unsaved_sets: keeper.unsaved, health: health.status() };
  };
  const stopping = new AbortController();
  const erasures = erasuresOf({ store, loops, publisher, stopping: stopping.signal, now });
  const { erasing } = erasures;
  const stations = doorsOf({ loops, store, publisher, erasing, time_zone, now, log, recorder: about });
  const records = recordsOf({ loops, store, publisher, inTurn, onRevised, time_zone, now, log });
  const where = { path, recorder, site, stopping: stopping.signal };
  const waiting = (): readonly SetToKeep[] => keeper.waiting;
  const caring = { ...where, ...erasures, waiting, store, loops, publisher, inTurn, broke, now, log };
  const care = careOf(caring);
  const dispatch = createDispatcher({ stations, store, records, care, curveOf, log: inRoom(log, "control") });

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
  running.stopWith("Control", WITHIN_MS.control, async () => {
    // Whoever asked for what is broken off now is told so before the doors close.
    await within(WITHIN_MS.care, care.settled());
    await opened.sockets.close();
  });

  const left = await takeUpErasures(caring);
  const started = await startAnnouncing({
    configuration,
    facts,
    store,
    publisher,
    now,
    log: inRoom(log, "mqtt"),
    health: () => health.brief(),
    onStatus({ alarm: code, trouble }) {
      for (const one of ["not-authorised", "recorder-conflict"] as const) {
        floor.all((loop) => loop.take({ kind: "announcing", code: one, trouble: code === one ? trouble : null }));
      }
      health.broker(trouble);
    },
  });
  if (!started.ok) throw new Error(started.message);
  const { announcing } = started;
  bus = announcing.bus;
  running.stopWith("The broker's side", WITHIN_MS.broker, () => announcing.stop());

  // Only now: what the stations say of themselves at once has somewhere to go.
  running.stopWith("Keeping", WITHIN_MS.keeping, () => archive.finish());
  const aside = await archive.aside();
  await takeUp(loops, { store, aside, keeper: archive.earlier, publisher, recorder, boot, log });
  publisher.outbox = announcing.wake;
  begin();

  floor.openLines(options.openPort);
  running.stopWith("The lines", WITHIN_MS.lines, () => floor.closeLines());
  const ticking = setInterval(() => {
    floor.all((loop) => loop.take({ kind: "tick" }));
    archive.look();
    const unusable = archive.unusable();
    // Nobody's set is cut short for the store's sake.
    if (unusable !== null && floor.atRest) broke(unusable);
  }, TICK_MS);
  const stopCheckpointing = startCheckpointing(loops, { store, alarm, log });
  running.stopWith("The stations", WITHIN_MS.stations, async () => {
    clearInterval(ticking);
    stopCheckpointing();
    // One commit for all of them, ahead of a commit each: on a slow disk there may be no time for those.
    void checkpointOnce(loops, { store, alarm, log });
    floor.all((loop) => loop.take({ kind: "stopping" }));
  });
  const door = openDoorAtBroker({ configuration, root: publisher.root, facts, bus, dispatch, now, log });
  atBroker = door;
  health.started();
  const { keep_sets_days } = configuration.store;
  const stopErasing = goOnErasing(care, caring, { left, keep_sets_days });
  running.stopWith("The door at the broker", WITHIN_MS.stations, async () => {
    // First of all: whoever waits for an export is told why there is none while there are doors to tell it through.
    stopping.abort();
    stopErasing();
    door.close();
  });

  return {
    broker: announcing.url,
    dispatch,
    watch: (listener) => publisher.watch(undefined, listener),
    broken,
    async settled() {
      while (keeper.unsaved + writes.unwritten > 0 || (await store.outboxSize()) > 0) await pause(20);
    },
    stop: () => running.stop(),
  };
}

const pause = (for_ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, for_ms));
