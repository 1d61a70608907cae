import type { CheckpointPart } from "../../../recorder/ports.ts";
import { nextCheckpoint } from "../../../recorder/station/checkpoint.ts";
import { holdCurve, readyBench } from "../station/bench.ts";

/** A hold of six seconds that still runs, as its checkpoint has it. */
export function unfinishedHold(): CheckpointPart {
  const bench = readyBench()
    .begin({ style: "hold", fatigue_threshold: 0.4 })
    .pull(0.5, 0)
    .pull(6, holdCurve(1000, 10, 0));
  const checkpoint = nextCheckpoint(bench.station);
  if (checkpoint === null) throw new Error("nothing runs");
  return checkpoint.part;
}
