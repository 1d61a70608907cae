/**
 * The way a set's readings take, live and in replay alike: raw counts, median of three, force by the record and the
 * frozen zero, set engine. Also counts what the set's quality says. Pure.
 */
import { median3 } from "../../calibration/median.ts";
import { forceOf, isSaturated } from "../../calibration/scale.ts";
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import type { InputLog } from "../ports.ts";
import type { EngineEffect } from "../set-engine/effects.ts";
import { arm, step } from "../set-engine/engine.ts";
import { type EngineState, NO_EFFECTS } from "../set-engine/state.ts";
import type { ArmFacts } from "./arm-facts.ts";
import type { LogEvent } from "./set-log.ts";

export interface SetPath {
  readonly facts: ArmFacts;
  readonly engine: EngineState;
  /** The two readings before; NaN: none. */
  readonly before2: number;
  readonly before1: number;
  readonly readings: number;
  readonly first_us: number;
  readonly last_us: number;
  readonly tally: Tally;
}

/** Changes seldom, so it hangs on the path by reference. */
export interface Tally {
  readonly readings_lost: number;
  readonly lines_rejected: number;
  readonly despiked: number;
  readonly saturated: number;
}

const SPIKE_NOISES = 12;
const SPIKE_SHARE = 0.005;

export function beginPath(facts: ArmFacts): SetPath {
  const [before2, before1] = facts.before_counts;
  return {
    facts,
    engine: arm(facts.setup, facts.at_us),
    before2: before1 === undefined ? Number.NaN : (before2 as number),
    before1: before1 ?? before2 ?? Number.NaN,
    readings: 0,
    first_us: facts.at_us,
    last_us: facts.at_us,
    tally: { readings_lost: 0, lines_rejected: 0, despiked: 0, saturated: 0 },
  };
}

export interface PathStep {
  readonly path: SetPath;
  readonly effects: readonly EngineEffect[];
}

export function pathReading(was: SetPath, at_us: number, counts: number, muscle_action: MuscleAction | null): PathStep {
  const { facts, before1, before2 } = was;
  const median = median3(before2, before1, counts);
  const tally = tallied(was, counts);
  let { engine } = was;
  let effects: readonly EngineEffect[] = NO_EFFECTS;
  if (!Number.isNaN(median)) {
    const force_N = forceOf(median, facts.zero_counts, facts.calibration.counts_per_N);
    const next = step(engine, { kind: "reading", at_us, force_N, muscle_action });
    engine = next.state;
    effects = next.effects;
  }
  return {
    path: {
      facts,
      engine,
      before2: before1,
      before1: counts,
      readings: was.readings + 1,
      first_us: was.readings === 0 ? at_us : was.first_us,
      last_us: at_us,
      tally,
    },
    effects,
  };
}

/** A reading that stands out from both its neighbours was a spike; the median has removed it. */
function tallied({ facts, before1, before2, tally }: SetPath, counts: number): Tally {
  const saturated = isSaturated(counts);
  const low = Math.min(before2, counts);
  const high = Math.max(before2, counts);
  const apart = Math.max(before1 - high, low - before1);
  const { setup, calibration } = facts;
  const limit_N = Math.max(SPIKE_NOISES * setup.noise_N, SPIKE_SHARE * setup.cell_capacity_N);
  const spiked = apart > limit_N * Math.abs(calibration.counts_per_N);
  if (!saturated && !spiked) return tally;
  return {
    ...tally,
    despiked: tally.despiked + (spiked ? 1 : 0),
    saturated: tally.saturated + (saturated ? 1 : 0),
  };
}

export function pathEvent(was: SetPath, event: LogEvent): PathStep {
  switch (event.kind) {
    case "action":
      return { path: was, effects: NO_EFFECTS };
    case "lost":
      return tally(was, { readings_lost: was.tally.readings_lost + event.lines });
    case "rejected":
      return tally(was, { lines_rejected: was.tally.lines_rejected + event.lines });
    default: {
      const next = step(was.engine, event);
      return { path: { ...was, engine: next.state }, effects: next.effects };
    }
  }
}

const tally = (was: SetPath, change: Partial<Tally>): PathStep => ({
  path: { ...was, tally: { ...was.tally, ...change } },
  effects: NO_EFFECTS,
});

/** Readings a second while the set ran, Hz; null: too few to say. */
export function pathRate_Hz({ readings, first_us, last_us }: SetPath): number | null {
  return readings < 2 || last_us <= first_us ? null : ((readings - 1) * 1e6) / (last_us - first_us);
}

/** A whole log through the engine, as far as it goes. `facts` may differ from the log's own in its settings. */
export function replayPath(facts: ArmFacts, log: InputLog): SetPath {
  for (const path of replayParts(facts, log, log.at_us.length + 1)) if (path !== null) return path;
  throw new Error("a replay came to no end");
}

/** The same with a null after every so many readings, for whoever has other things to do in between; the path comes last. */
export function* replayParts(facts: ArmFacts, log: InputLog, readings_at_once: number): Generator<SetPath | null> {
  let path = beginPath(facts);
  let action: MuscleAction | null = null;
  let place = 0;
  for (let index = 0; index <= log.at_us.length; index++) {
    if (index % readings_at_once === readings_at_once - 1) yield null;
    for (let placed = log.events[place]; placed?.before === index; placed = log.events[place]) {
      const event = placed.event as LogEvent;
      if (event.kind === "action") action = event.muscle_action;
      path = pathEvent(path, event).path;
      place += 1;
    }
    if (index < log.at_us.length) {
      path = pathReading(path, log.at_us[index] as number, log.counts[index] as number, action).path;
    }
  }
  yield path;
}
