/** Writes down what running sets have grown by, all stations together, so that a power cut costs seconds of a set. */
import type { Store } from "../ports.ts";
import type { ServiceLog } from "./log.ts";
import type { StationLoop } from "./station-loop.ts";
import type { StorageAlarm } from "./storage-alarm.ts";

const CHECKPOINT_MS = 5000;

export interface CheckpointingPorts {
  readonly store: Pick<Store, "checkpoint">;
  readonly alarm: StorageAlarm;
  readonly log: Pick<ServiceLog, "error">;
}

/** Returns how to stop. */
export function startCheckpointing(loops: ReadonlyMap<string, StationLoop>, ports: CheckpointingPorts): () => void {
  let under_way = false;
  const timer = setInterval(() => {
    // A slow disk is asked once: a part is taken again only when it is known how the last one went.
    if (under_way) return;
    under_way = true;
    void checkpointOnce(loops, ports).finally(() => {
      under_way = false;
    });
  }, CHECKPOINT_MS);
  return () => clearInterval(timer);
}

/** One round. What could not be written is written with the next. */
export async function checkpointOnce(
  loops: ReadonlyMap<string, StationLoop>,
  { store, alarm, log }: CheckpointingPorts,
): Promise<void> {
  const taken = [...loops.values()].flatMap((loop) => {
    const checkpoint = loop.checkpoint();
    return checkpoint === null ? [] : [{ loop, checkpoint }];
  });
  if (taken.length === 0) return;
  try {
    await store.checkpoint(taken.map(({ checkpoint }) => checkpoint.part));
  } catch (error) {
    log.error({ err: error }, "running sets could not be checkpointed");
    alarm.failed(`Running sets could not be written down: ${(error as Error).message}`);
    return;
  }
  for (const { loop, checkpoint } of taken) loop.checkpointKept(checkpoint);
  alarm.worked();
}
