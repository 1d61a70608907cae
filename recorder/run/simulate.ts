/** The recorder with a simulated gym on its lines: no hardware, no broker, no configuration, and a store thrown away. */
import { randomUUID } from "node:crypto";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Phase } from "../../protocol/vocabulary.ts";
import type { Configuration } from "../configuration/schema.ts";
import type { WatchEvent } from "../control/ports.ts";
import { openSimulatedPort } from "../simulated-gym/binding.ts";
import { directGym } from "../simulated-gym/direct.ts";
import { SimulatedGym } from "../simulated-gym/gym.ts";
import { flatOut, realTime } from "../simulated-gym/pace.ts";
import { calibrationsOf, gymConfiguration, plansOf, stationsOf } from "../simulated-gym/scenario.ts";
import { aborted } from "./aborted.ts";
import type { ServiceLog } from "./log.ts";
import { type Service, startService } from "./service.ts";
import { inventWeeks } from "./simulated-weeks.ts";

export interface SimulateOptions {
  /** One set a station as fast as it can, then the end; else all day in real time. */
  readonly once: boolean;
  readonly log: ServiceLog;
  /** Hears every message as it is published. */
  readonly show: (event: WatchEvent) => void;
  /** One line for whoever started it. */
  readonly say: (line: string) => void;
  readonly stopped: AbortSignal;
}

/** The same gym every time: what it does is its own invention, not chance. */
const SEED = 20260;
const CALIBRATED_DAYS_AGO = 12;
const FORMERLY_DAYS_AGO = 100;

/** Resolves with the exit code. */
export async function simulate(options: SimulateOptions): Promise<number> {
  const { once, log, say, stopped } = options;
  const directory = await mkdtemp(join(tmpdir(), "tidemark-"));
  try {
    const control = join(directory, "control");
    const configuration = gymConfiguration({
      store: join(directory, "tidemark.db"),
      socket: join(control, "control.sock"),
      service_socket: join(control, "service.sock"),
      port: 0,
    });
    const gym = new SimulatedGym(stationsOf(configuration, SEED), SEED);
    const started = await startService({
      configuration,
      simulated: true,
      openPort: openSimulatedPort(gym, once ? flatOut() : realTime()),
      log,
      async prepare(store) {
        const now_ms = Date.now();
        const calibrated = async (days_ago: number) => {
          const ids = configuration.station.map(() => randomUUID());
          const records = calibrationsOf(configuration, { now_ms, days_ago, ids }, SEED, SEED + days_ago);
          for (const record of records) await store.saveCalibration(record);
          return records;
        };
        // Whoever waits for a single set does not look back.
        const before = once ? [] : await calibrated(FORMERLY_DAYS_AGO);
        const now = await calibrated(CALIBRATED_DAYS_AGO);
        if (once) return;
        say("Inventing three months of training, so that there is something to look back on: a few seconds.");
        const scales = { before, now, since_days: CALIBRATED_DAYS_AGO };
        await inventWeeks(configuration, scales, { now_ms, store, stopped, seed: SEED });
      },
    });
    if (!started.ok) {
      say(started.message);
      return 1;
    }
    try {
      return await runDay(started.service, gym, configuration, options);
    } finally {
      await started.service.stop();
    }
  } finally {
    await rm(directory, { recursive: true, force: true });
  }
}

/** The day of the gym, until its plans are done, it is told to stop, or the recorder cannot go on. */
async function runDay(
  service: Service,
  gym: SimulatedGym,
  configuration: Configuration,
  { once, log, show, say, stopped }: SimulateOptions,
): Promise<number> {
  const open = new Set(configuration.station.map(({ id }) => id));
  let done = (): void => {};
  const plansDone = new Promise<void>((resolve) => {
    done = resolve;
  });
  const tell = directGym(gym, plansOf(configuration, once ? 1 : null), {
    begin(args) {
      const request = {
        verb: "begin",
        args,
        groups: ["train"],
        door: "simulated",
        request_id: randomUUID(),
      } as const;
      void service.dispatch(request).then((outcome) => {
        if (!outcome.ok) log.warn({ station: args.station }, `A begin was refused: ${outcome.error.message}`);
      });
    },
    closed(station) {
      open.delete(station);
      if (open.size === 0) done();
    },
  });
  service.watch((event) => {
    // Lines that close because we stop are no faults worth a picture; sets that are kept meanwhile are.
    if (!stopped.aborted || event.topic === "set") show(event);
    if (event.topic === "state") tell(event.station, (event.message as { phase: Phase }).phase);
  });
  say("A simulated gym: nothing here was measured. Every message says simulated: true.");
  const { port } = new URL(service.broker);
  if (!once) {
    say(`Subscribe: mosquitto_sub -h 127.0.0.1 -p ${port} -v -t 'tidemark/${configuration.site}/#'`);
    say(`Ask:       npm run --silent tidemark -- sets --socket ${configuration.control.socket}`);
    say(`Look back: npm run --silent tidemark -- trend leg-press otter-14 --socket ${configuration.control.socket}`);
    say("Stop:      Ctrl-C");
  }
  const settled = plansDone.then(() => service.settled());
  const ended = await Promise.race([
    settled.then(
      () => null,
      (error: Error) => error.message,
    ),
    aborted(stopped).then(() => null),
    service.broken,
  ]);
  if (ended !== null) say(ended);
  return ended === null ? 0 : 1;
}
