/** What the store hands back at start: records, zeros, latches, and the sets that were running when we went away. */
import type { Store } from "../ports.ts";
import type { Keeper } from "./keeper.ts";
import type { ServiceLog } from "./log.ts";
import type { Publisher } from "./publisher.ts";
import { recover } from "./recover.ts";
import type { StationLoop } from "./station-loop.ts";

export async function takeUp(
  loops: ReadonlyMap<string, StationLoop>,
  ports: {
    readonly store: Store;
    readonly keeper: Keeper;
    readonly publisher: Publisher;
    readonly recorder: string;
    readonly boot: string;
    readonly log: ServiceLog;
  },
): Promise<void> {
  const { store, keeper, publisher, recorder, boot, log } = ports;
  for (const loop of loops.values()) {
    const record = await store.calibrationInForce(loop.id);
    if (record !== null) loop.take({ kind: "calibration", record, zero: await store.zero(loop.id) });
    const latched = await store.inspect(loop.id);
    if (latched !== null) loop.take({ kind: "inspect", ...latched });
  }
  for (const unfinished of await store.unfinished()) {
    const { set_id, station } = unfinished;
    const found = recover(unfinished, { recorder, boot, store: store.store_id });
    if (found.is === "set") {
      log.info({ station, set_id }, "A set that was running when the recorder went away is kept as interrupted.");
      keeper.keep({ ...found.set, topic: publisher.topic(station, "set") });
    } else {
      log.info({ station, set_id }, `A set that was set up when the recorder went away came to nothing: ${found.why}.`);
      await store.forget(set_id);
    }
  }
}
