/** Invented logs cut into parts, as a running set is checkpointed. */
import type { CheckpointPart, InputLog } from "../../../recorder/ports.ts";
import { inventedLog, uuidOf } from "./invented.ts";

/** Readings `start`..`end` of a log and the events among them, as a part that counts from its own start. */
export function sliceLog(log: InputLog, start: number, end: number): InputLog {
  return {
    arm: start === 0 ? log.arm : null,
    at_us: Array.from(log.at_us).slice(start, end),
    counts: Array.from(log.counts).slice(start, end),
    events: log.events
      .filter((event) => event.before >= start && (event.before < end || end === log.at_us.length))
      .map((event) => ({ ...event, before: event.before - start })),
  };
}

const PART_READINGS = 60;

/** Parts 0, 1, 2 ... of 60 readings each of the invented log of this number. */
export function partOf(number: number, part: number): CheckpointPart {
  const log = sliceLog(inventedLog(number), part * PART_READINGS, (part + 1) * PART_READINGS);
  return { set_id: uuidOf(number), station: "leg-press", part, log };
}

/** What the first `parts` of them join to. */
export const joinedParts = (number: number, parts: number): InputLog =>
  sliceLog(inventedLog(number), 0, parts * PART_READINGS);
