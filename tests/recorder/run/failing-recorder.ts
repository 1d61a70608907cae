/**
 * A recorder in a process of its own whose start fails after it has begun to keep a set that the disk does not take. Says
 * why it did not start; that its process then ends is what its parent looks at.
 */
import type { CheckpointPart, Store } from "../../../recorder/ports.ts";
import { startService } from "../../../recorder/run/service.ts";
import { nextCheckpoint } from "../../../recorder/station/checkpoint.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { holdCurve, readyBench } from "../station/bench.ts";
import { configurationIn, SILENT } from "./gym-service.ts";

function running(): CheckpointPart {
  const bench = readyBench()
    .begin({ style: "hold", fatigue_threshold: 0.4 })
    .pull(0.5, 0)
    .pull(6, holdCurve(1000, 10, 0));
  const checkpoint = nextCheckpoint(bench.station);
  if (checkpoint === null) throw new Error("nothing runs");
  return checkpoint.part;
}

const [directory] = process.argv.slice(2);
const configuration = configurationIn(directory!);
const tries = { keep: 0 };
const started = await startService({
  configuration,
  simulated: true,
  // The last thing a start does fails.
  openPort() {
    throw new Error("this machine has no serial ports at all");
  },
  log: SILENT,
  async prepare(store) {
    await store.checkpoint([running()]);
    const full: Pick<Store, "keep"> = {
      async keep() {
        tries.keep += 1;
        throw new StoreFailure("disk-full", "the disk is full");
      },
    };
    Object.assign(store, full);
  },
});
process.send!({ message: started.ok ? "it started" : started.message, tries: tries.keep });
process.disconnect();
