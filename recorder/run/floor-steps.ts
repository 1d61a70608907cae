/** Where the floor of a kept set rose, by running its log through the rules once more. For drawings; nothing is kept. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import type { FloorSteps } from "../drawing/set-plot-facts.ts";
import type { InputLog } from "../ports.ts";
import type { EngineState } from "../set-engine/state.ts";
import type { LogEvent } from "../station/set-log.ts";
import { beginPath, pathEvent, pathReading, type SetPath } from "../station/set-path.ts";
import { readLog } from "./read-log.ts";

/** What is published is rounded to 0.01 N. */
const SAME_N = 0.02;

/**
 * null where the rules of today do not come to the floor that was kept: the set was judged by others, and a floor that
 * did not decide must not be drawn.
 */
export function floorSteps(message: SetMessage, log: InputLog): FloorSteps | null {
  const read = readLog(log);
  if (!read.ok) return null;
  const rises: { at_us: number; floor_N: number | null }[] = [];
  let path = beginPath(read.facts);
  const see = (next: SetPath, at_us: number): void => {
    path = next;
    const floor_N = floorOf(next.engine);
    // Armed again: what went before was a false start.
    if (floor_N === undefined) rises.length = 0;
    else if (rises.length === 0 || rises.at(-1)?.floor_N !== floor_N) rises.push({ at_us, floor_N });
  };
  let action: MuscleAction | null = null;
  let place = 0;
  const { at_us, counts, events } = read.log;
  for (let index = 0; index <= at_us.length; index++) {
    for (let placed = events[place]; placed?.before === index; placed = events[place]) {
      const event = placed.event as LogEvent;
      if (event.kind === "action") action = event.muscle_action;
      see(pathEvent(path, event).path, path.last_us);
      place += 1;
    }
    const now_us = at_us[index];
    if (now_us !== undefined) see(pathReading(path, now_us, counts[index] as number, action).path, now_us);
  }
  // A set that a restart ended has no end in its log.
  if (!isOver(path)) see(pathEvent(path, { kind: "end", at_us: path.last_us, because: null }).path, path.last_us);
  if (path.engine.is !== "over") return null;
  const { result } = path.engine;
  if (Math.abs((result.floor_N ?? 0) - (message.floor_force_N ?? 0)) > SAME_N) return null;
  const { onset_us } = result;
  const best_us = message.style === "hold" ? result.efforts[0]?.peak_us : undefined;
  return {
    steps: rises.map(({ at_us: us, floor_N }) => ({ elapsed_s: (us - onset_us) / 1e6, floor_force_N: floor_N })),
    // A second's mark is where it begins.
    best_s: best_us === undefined ? null : (best_us - onset_us) / 1e6 + 0.5,
  };
}

const isOver = ({ engine }: SetPath): boolean => engine.is === "over";

/** undefined: no set runs, or not any more. */
function floorOf(engine: EngineState): number | null | undefined {
  switch (engine.is) {
    case "holding":
      return engine.floor_N;
    case "exerting":
      return engine.book.floor_N;
    case "over":
      return engine.result.floor_N;
    default:
      return undefined;
  }
}
