/**
 * A whole recorder in a process of its own, with the simulated gym flat out on its lines, its own broker, and somebody who
 * subscribes to everything: tells its parent, after every few sets, how much memory lives. Started with --expose-gc.
 */
import { randomUUID } from "node:crypto";
import { connectAsync } from "mqtt";
import type { Phase } from "../../protocol/vocabulary.ts";
import { startService } from "../../recorder/run/service.ts";
import { openSimulatedPort } from "../../recorder/simulated-gym/binding.ts";
import { directGym } from "../../recorder/simulated-gym/direct.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { flatOut } from "../../recorder/simulated-gym/pace.ts";
import { calibrationsOf, plansOf, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { configurationIn, SEED, SILENT } from "../recorder/run/gym-service.ts";

/** What lives after so many sets, bytes. */
export interface Sample {
  readonly sets: number;
  readonly heap_bytes: number;
  readonly external_bytes: number;
  readonly rss_bytes: number;
  readonly elapsed_s: number;
}

const [directory, sets, every, leak] = process.argv.slice(2);
const gymwide = configurationIn(directory!);
// Live values are the same work over and over, and most of it.
const configuration = { ...gymwide, station: gymwide.station.map((station) => ({ ...station, live_rate_Hz: 1 })) };
const collect = (globalThis as { gc?: () => void }).gc!;
const gym = new SimulatedGym(stationsOf(configuration, SEED), SEED);
const started = await startService({
  configuration,
  simulated: true,
  openPort: openSimulatedPort(gym, flatOut()),
  log: SILENT,
  async prepare(store) {
    const ids = configuration.station.map(() => randomUUID());
    for (const record of calibrationsOf(configuration, { now_ms: Date.now(), days_ago: 12, ids }, SEED)) {
      await store.saveCalibration(record);
    }
  },
});
if (!started.ok) throw new Error(started.message);
const { service } = started;
const leaked: string[] = [];
let heard = 0;

const subscriber = await connectAsync(service.broker);
subscriber.on("message", (topic, payload) => {
  // A revision may follow, where the station comes to rest.
  if (!topic.endsWith("/set") || !payload.includes('"revision":1,')) return;
  heard += 1;
  // For proving that the bound would find it: of the size it is to find, and no string shared with another.
  if (leak !== undefined) leaked.push(Buffer.alloc(Number(leak), (heard % 90) + 33).toString("latin1"));
  if (heard % Number(every) !== 0) return;
  collect();
  collect();
  const { heapUsed, external, rss } = process.memoryUsage();
  const sample: Sample = {
    sets: heard,
    heap_bytes: heapUsed,
    external_bytes: external,
    rss_bytes: rss,
    elapsed_s: performance.now() / 1000,
  };
  process.send!(sample);
});
await subscriber.subscribeAsync("tidemark/#", { qos: 1 });

// The same people, in a hurry: it is the number of sets that counts.
const SHORT = { effort_limit: 2, time_limit_s: 5 };
const plans = plansOf(configuration, Number(sets)).map((plan) => ({
  ...plan,
  visits: plan.visits.map((visit) => {
    const asked = "request" in visit.begun_by ? visit.begun_by.request : {};
    return { ...visit, pause_s: 3, begun_by: { request: { ...asked, trainee: visit.trainee.code, options: SHORT } } };
  }),
}));
const open = new Set(configuration.station.map(({ id }) => id));
await new Promise<void>((done) => {
  const tell = directGym(gym, plans, {
    begin: (args) =>
      void service.dispatch({ verb: "begin", args, groups: ["train"], door: "simulated", request_id: randomUUID() }),
    closed(station) {
      open.delete(station);
      if (open.size === 0) done();
    },
  });
  service.watch(({ station, topic, message }) => {
    if (topic === "state") tell(station, (message as { phase: Phase }).phase);
  });
});
await service.settled();
await subscriber.endAsync();
await service.stop();
process.disconnect();
