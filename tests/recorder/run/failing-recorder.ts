/**
 * A recorder in a process of its own whose start fails after it has begun to keep a set that the disk does not take. Says
 * why it did not start; that its process then ends is what its parent looks at.
 */
import type { Store } from "../../../recorder/ports.ts";
import { startService } from "../../../recorder/run/service.ts";
import { StoreFailure } from "../../../recorder/store/failure.ts";
import { configurationIn, SILENT } from "./gym-service.ts";
import { unfinishedHold } from "./unfinished-hold.ts";

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
    await store.checkpoint([unfinishedHold()]);
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
