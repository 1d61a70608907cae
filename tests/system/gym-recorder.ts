/**
 * The recorder with a simulated gym on its lines, in a process of its own, on a real store and a real broker. Its one
 * argument is its orders as JSON. It says to its parent when it is up and, where nobody trains, when all is settled; and
 * it dies by its own hand where it is ordered to, because no parent could hit the middle of a commit.
 */
import { randomUUID } from "node:crypto";
import { join } from "node:path";
import { setTimeout } from "node:timers/promises";
import { pino } from "pino";
import type { Phase } from "../../protocol/vocabulary.ts";
import type { Configuration } from "../../recorder/configuration/schema.ts";
import type { Store } from "../../recorder/ports.ts";
import { startService } from "../../recorder/run/service.ts";
import { openSimulatedPort } from "../../recorder/simulated-gym/binding.ts";
import { directGym } from "../../recorder/simulated-gym/direct.ts";
import type { Plan } from "../../recorder/simulated-gym/director.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { flatOut, type Pace, realTime } from "../../recorder/simulated-gym/pace.ts";
import { calibrationsOf, gymConfiguration, plansOf, stationsOf } from "../../recorder/simulated-gym/scenario.ts";

export interface Orders {
  readonly directory: string;
  /** Of the broker, on loopback. */
  readonly port: number;
  readonly password_file: string;
  readonly seed: number;
  /** Nobody trains: what is left is announced, and that is said. */
  readonly train: boolean;
  /** Eight steady holds at this many device seconds a second, all at once, in place of the busy hall. */
  readonly holds_at_speed?: number;
  /** Dies `after_ms` into the `nth` call of this request to the store. */
  readonly die?: { readonly during: "keep" | "sent" | "checkpoint"; readonly nth: number; readonly after_ms: number };
}

export type Said = { readonly is: "up" } | { readonly is: "settled" };

/** Stations flat out give many sets; those at this speed give sets that outlast a checkpoint. */
const SLOW_SPEED = 4;
const COPIES = { "leg-press": 1, "knee-extension": 4, "pull-down": 0 } as const;

/** The rigs stay; what happens on them is another each time. */
const RIG_SEED = 4711;

const EIGHT = Array.from({ length: 8 }, (_, index) => `knee-${index + 1}-slow`);

const isSlow = (id: string): boolean => id.endsWith("-slow");

/** The simulated gym's stations, each as often as above, and each once more for the slow ones. */
function hall(orders: Orders): { readonly configuration: Configuration; readonly plans: readonly Plan[] } {
  const { directory, port, password_file } = orders;
  const control = join(directory, "control");
  const base = gymConfiguration({
    store: join(directory, "tidemark.db"),
    socket: join(control, "control.sock"),
    service_socket: join(control, "service.sock"),
    port: 0,
  });
  const names = (id: string): readonly string[] => {
    if (orders.holds_at_speed !== undefined) return id === "knee-extension" ? EIGHT : [];
    const copies = Array.from({ length: COPIES[id as keyof typeof COPIES] }, (_, index) => `${id}-${index + 1}`);
    return [...copies, `${id}-slow`];
  };
  const station = base.station.flatMap((model) =>
    names(model.id).map((id) => ({ ...model, id, serial_port: `simulated:${id}` })),
  );
  const plans = plansOf(base, null).flatMap((plan) => names(plan.station).map((id) => ({ ...plan, station: id })));
  const broker = { root: "tidemark", url: `mqtt://127.0.0.1:${port}`, username: "recorder", password_file };
  return { configuration: { ...base, broker, station }, plans };
}

/** Dies in the middle of the request: it is under way in the storage thread while this thread stands still. */
function deadly(store: Store, { during, nth, after_ms }: NonNullable<Orders["die"]>): void {
  let calls = 0;
  const request = store[during] as (...args: unknown[]) => Promise<unknown>;
  const fatal = (...args: unknown[]): Promise<unknown> => {
    const answer = request(...args);
    calls += 1;
    if (calls < nth) return answer;
    Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, after_ms);
    process.kill(process.pid, "SIGKILL");
    return answer;
  };
  Object.assign(store, { [during]: fatal });
}

function pace(speed = SLOW_SPEED): Pace {
  const fast = flatOut();
  const slow = realTime({
    now_ms: () => performance.now() * speed,
    sleep: (for_ms, signal) => setTimeout(for_ms / speed, undefined, { signal }),
  });
  const of = (id: string): Pace => (isSlow(id) ? slow : fast);
  return {
    opened: (station) => of(station.id).opened(station),
    move: (station, signal) => of(station.id).move(station, signal),
  };
}

const say = (said: Said): void => void process.send?.(said);

async function main(orders: Orders): Promise<void> {
  const { configuration, plans } = hall(orders);
  const gym = new SimulatedGym(stationsOf(configuration, RIG_SEED), orders.seed);
  const started = await startService({
    configuration,
    simulated: true,
    openPort: openSimulatedPort(gym, pace(orders.holds_at_speed)),
    log: pino({ level: "warn" }),
    async prepare(store) {
      const [first] = configuration.station;
      if (first !== undefined && (await store.calibrationInForce(first.id)) === null) {
        const ids = configuration.station.map(() => randomUUID());
        const when = { now_ms: Date.now(), days_ago: 12, ids };
        for (const record of calibrationsOf(configuration, when, RIG_SEED)) await store.saveCalibration(record);
      }
      if (orders.die !== undefined) deadly(store, orders.die);
    },
  });
  if (!started.ok) throw new Error(started.message);
  const { service } = started;
  process.once("SIGTERM", () => void service.stop().then(() => process.exit(0)));
  if (orders.train) {
    const tell = directGym(gym, plans, {
      begin: (args) =>
        void service.dispatch({
          verb: "begin",
          args,
          groups: ["train"],
          door: "simulated",
          request_id: randomUUID(),
        }),
      closed: () => {},
    });
    service.watch(({ station, topic, message }) => {
      if (topic === "state") tell(station, (message as { phase: Phase }).phase);
    });
    say({ is: "up" });
  } else {
    await service.settled();
    say({ is: "settled" });
  }
}

await main(JSON.parse(process.argv[2] ?? "") as Orders);
