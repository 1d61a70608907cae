/**
 * What the store hands back at start: records, zeros, latches, and the sets that were running when we went away; and what
 * lies beside it, because it could not be kept then.
 */
import type { Store, UnfinishedSet } from "../ports.ts";
import type { Keeper } from "./keeper.ts";
import type { ServiceLog } from "./log.ts";
import type { Publisher } from "./publisher.ts";
import type { Aside } from "./put-aside.ts";
import { recover } from "./recover.ts";
import type { StationLoop } from "./station-loop.ts";

export interface TakeUpPorts {
  readonly store: Store;
  /** What earlier runs put aside. */
  readonly aside: Aside;
  readonly keeper: Pick<Keeper, "keep">;
  readonly publisher: Pick<Publisher, "topic">;
  readonly recorder: string;
  readonly boot: string;
  readonly log: Pick<ServiceLog, "info" | "error">;
}

export async function takeUp(loops: ReadonlyMap<string, StationLoop>, ports: TakeUpPorts): Promise<void> {
  const { store } = ports;
  for (const loop of loops.values()) {
    const record = await store.calibrationInForce(loop.id);
    if (record !== null) {
      const [zero, due] = await Promise.all([store.zero(loop.id), store.calibrationDue(loop.id)]);
      loop.take({ kind: "calibration", record, zero, due });
    }
    const latched = await store.inspect(loop.id);
    if (latched !== null) loop.take({ kind: "inspect", ...latched });
    const latest = await store.latest(loop.id);
    if (latest !== null) loop.take({ kind: "took-up", last_ended_at: latest.at });
  }
  const whole = takeUpAside(loops, ports);
  for (const unfinished of await store.unfinished()) {
    // Of a set that lies aside whole, the checkpoints are the lesser half: they go when it is kept.
    if (!whole.has(unfinished.set_id)) await takeUpSet(unfinished, loops.get(unfinished.station), ports);
  }
}

/** Returns the ids of the sets found. */
function takeUpAside(
  loops: ReadonlyMap<string, StationLoop>,
  { aside, keeper, publisher, log }: TakeUpPorts,
): ReadonlySet<string> {
  for (const set of aside.sets) {
    const { station, set_id, at } = set.message;
    log.info({ station, set_id }, "A set that could not be kept earlier is tried again.");
    keeper.keep({ ...set, topic: publisher.topic(station, "set") });
    const loop = loops.get(station);
    // One that no store ever takes has lain here while others were kept.
    const newest = loop?.station.desk.last_ended_at ?? null;
    if (newest === null || newest < at) loop?.take({ kind: "took-up", last_ended_at: at });
  }
  for (const path of aside.unreadable) log.error({ path }, "A file beside the store holds no set that can be read.");
  return new Set(aside.sets.map(({ message }) => message.set_id));
}

/** A set that nobody here can read must keep no station from starting: it stays where it is, for a version that can. */
async function takeUpSet(unfinished: UnfinishedSet, loop: StationLoop | undefined, ports: TakeUpPorts): Promise<void> {
  const { store, keeper, publisher, recorder, boot, log } = ports;
  const { set_id, station } = unfinished;
  try {
    const found = recover(unfinished, { recorder, boot, store: store.store_id });
    switch (found.is) {
      case "set":
        log.info({ station, set_id }, "A set that was running when the recorder went away is kept as interrupted.");
        keeper.keep({ ...found.set, topic: publisher.topic(station, "set") });
        loop?.take({ kind: "took-up", last_ended_at: found.set.message.at });
        return;
      case "nothing":
        log.info(
          { station, set_id },
          `A set that was set up when the recorder went away came to nothing: ${found.why}.`,
        );
        return await store.forget(set_id);
      case "unreadable":
        log.error({ station, set_id }, `A set that was running stays in the store as it is: ${found.why}.`);
    }
  } catch (error) {
    log.error(
      { err: error, station, set_id },
      "A set that was running stays in the store as it is: taking it up failed.",
    );
  }
}
