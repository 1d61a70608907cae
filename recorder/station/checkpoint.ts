/** What of a running set must be on the disk, so that a recorder that goes away loses no more than a few seconds of it. */
import type { CheckpointPart } from "../ports.ts";
import { nextPart, type Reach } from "./set-log.ts";
import type { Station } from "./state.ts";

export interface Checkpoint {
  readonly part: CheckpointPart;
  readonly reach: Reach;
}

/** What a running set has grown by since its last checkpoint that was kept; null where none runs. */
export function nextCheckpoint({ set, configuration }: Station): Checkpoint | null {
  if (set === null || set.path.engine.is === "armed") return null;
  const { part, log, reach } = nextPart(set.log);
  return { part: { set_id: set.path.facts.set_id, station: configuration.id, part, log }, reach };
}

/** A checkpoint is kept: the next begins where it ends. */
export function checkpointKept(station: Station, { part, reach }: Checkpoint): Station {
  const { set } = station;
  if (set === null || set.path.facts.set_id !== part.set_id) return station;
  return { ...station, set: { ...set, log: { ...set.log, saved: reach } } };
}
