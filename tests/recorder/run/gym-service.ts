/** The whole recorder with a simulated gym on its lines, as the tests of the service start it. */
import { randomUUID } from "node:crypto";
import { join } from "node:path";
import { pino } from "pino";
import type { Outcome } from "../../../protocol/requests/response.ts";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import type { Phase } from "../../../protocol/vocabulary.ts";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import type { WatchEvent } from "../../../recorder/control/ports.ts";
import type { Store } from "../../../recorder/ports.ts";
import type { HostClock } from "../../../recorder/run/clock.ts";
import { type Service, startService } from "../../../recorder/run/service.ts";
import { openSimulatedPort } from "../../../recorder/simulated-gym/binding.ts";
import { directGym } from "../../../recorder/simulated-gym/direct.ts";
import { SimulatedGym } from "../../../recorder/simulated-gym/gym.ts";
import { flatOut } from "../../../recorder/simulated-gym/pace.ts";
import { calibrationsOf, gymConfiguration, plansOf, stationsOf } from "../../../recorder/simulated-gym/scenario.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";

export const SEED = 20_260;
export const SILENT = pino({ level: "silent" });

/** The gym's configuration, with store and sockets in one directory. */
export function configurationIn(directory: string): Configuration {
  const control = join(directory, "control");
  return gymConfiguration({
    store: join(directory, "tidemark.db"),
    socket: join(control, "control.sock"),
    service_socket: join(control, "service.sock"),
    port: 0,
  });
}

const running: Service[] = [];

/** Stops whatever a test started and did not stop. */
export async function stopAll(): Promise<void> {
  for (const service of running.splice(0)) await service.stop();
}

export interface GymService {
  readonly service: Service;
  readonly gym: SimulatedGym;
  readonly port: number;
  readonly heard: WatchEvent[];
  /** What its log says of errors, sentence for sentence. */
  readonly errors: string[];
  ask(verb: Verb, args?: object): Promise<Outcome>;
  /** Starts the gym's day, one set a station; resolves when every plan is done. */
  day(): Promise<void>;
  /** Resolves with the first message, from now on, that fits. */
  next(fits: (event: WatchEvent) => boolean): Promise<WatchEvent>;
}

/** `prepare`: a store without calibrations gets them first. `tamper` may change the store before anybody uses it. */
export async function startGym(
  configuration: Configuration,
  prepare = true,
  pace = flatOut(),
  tamper: (store: Store) => void = () => {},
  clock?: HostClock,
): Promise<GymService> {
  const errors: string[] = [];
  const write = (line: string): void => void errors.push((JSON.parse(line) as { msg: string }).msg);
  // Boards that have been on for half an hour: warm, whatever a test wants of them.
  const models = stationsOf(configuration, SEED).map((model) => {
    return { ...model, board: { ...model.board, clock_at_boot_us: 1_800_000_000 } };
  });
  const gym = new SimulatedGym(models, SEED);
  const started = await startService({
    configuration,
    simulated: true,
    openPort: openSimulatedPort(gym, pace),
    ...(clock === undefined ? {} : { clock }),
    log: pino({ level: "error" }, { write }),
    async prepare(store) {
      const ids = configuration.station.map(() => randomUUID());
      const when = { now_ms: Date.now(), days_ago: 12, ids };
      const records = prepare ? calibrationsOf(configuration, when, SEED) : [];
      for (const record of records) await store.saveCalibration(record);
      tamper(store);
    },
  });
  if (!started.ok) throw new Error(started.message);
  const { service } = started;
  running.push(service);
  const heard: WatchEvent[] = [];
  service.watch((event) => heard.push(event));
  return {
    service,
    gym,
    port: Number(new URL(service.broker).port),
    heard,
    errors,
    ask: (verb, args = {}) =>
      service.dispatch({
        verb,
        args,
        groups: ["read", "train", "service"],
        door: "simulated",
        request_id: randomUUID(),
      }),
    day() {
      const open = new Set(configuration.station.map(({ id }) => id));
      return new Promise((resolve) => {
        const tell = directGym(gym, plansOf(configuration, 1), {
          begin: (args) =>
            void service.dispatch({
              verb: "begin",
              args,
              groups: ["train"],
              door: "simulated",
              request_id: randomUUID(),
            }),
          closed(station) {
            open.delete(station);
            if (open.size === 0) resolve();
          },
        });
        service.watch(({ station, topic, message }) => {
          if (topic === "state") tell(station, (message as { phase: Phase }).phase);
        });
      });
    },
    next: (fits) =>
      new Promise((resolve) => {
        const stop = service.watch((event) => {
          if (!fits(event)) return;
          stop();
          resolve(event);
        });
      }),
  };
}

/** A set that is running and will run for long: a hold down to 75 %, begun at the knee station. */
export async function midSet(running: GymService): Promise<string> {
  const station = "knee-extension";
  const holder = trainee("wren-21", 520, { F_per_s: 0.002, R_per_s: 0.0015, rest_multiplier: 15 }, { style: "hold" });
  running.gym.station(station).sit(holder);
  let begun = await running.ask("begin", { station, trainee: "wren-21", fatigue_threshold: 0.75 });
  // Two seconds of readings are needed before the rate is known.
  while (!begun.ok) {
    await running.next(({ topic: name, station: at }) => name === "live" && at === station);
    begun = await running.ask("begin", { station, trainee: "wren-21", fatigue_threshold: 0.75 });
  }
  await running.next(
    ({ topic: name, station: at, message }) =>
      name === "live" && at === station && ((message as { best_force_N: number | null }).best_force_N ?? 0) > 300,
  );
  return (begun.result as { set_id: string }).set_id;
}
