/**
 * The input log of a set as it grows: readings as they came (raw counts, device time), everything else as events
 * between them. Persistent: growing gives a new log and leaves the old one as it was. Replayed through `set-path.ts`
 * it yields the same set, so nothing else needs keeping.
 */
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import type { InputLog } from "../ports.ts";
import type { EngineInput, ReadingInput } from "../set-engine/inputs.ts";
import type { ArmFacts } from "./arm-facts.ts";

/** What stands between readings: told to the engine, or counted for the set's quality. */
export type LogEvent =
  | Exclude<EngineInput, ReadingInput>
  /** From the next reading on. */
  | { readonly kind: "action"; readonly muscle_action: MuscleAction | null }
  | { readonly kind: "lost"; readonly lines: number }
  | { readonly kind: "rejected" };

interface Reading {
  readonly at_us: number;
  readonly counts: number;
  readonly older: Reading | null;
}

interface Placed {
  readonly before: number;
  readonly event: LogEvent;
}

export interface SetLog {
  readonly arm: ArmFacts;
  readonly newest: Reading | null;
  readonly readings: number;
  readonly events: readonly Placed[];
  readonly action: MuscleAction | null;
  /** How far the checkpoints reach that are kept, and the number of the next. */
  readonly saved: Reach;
}

export interface Reach {
  readonly part: number;
  readonly readings: number;
  readonly events: number;
}

export const beginLog = (arm: ArmFacts): SetLog => ({
  arm,
  newest: null,
  readings: 0,
  events: [],
  action: null,
  saved: { part: 0, readings: 0, events: 0 },
});

export function logReading(log: SetLog, at_us: number, counts: number, action: MuscleAction | null): SetLog {
  const newest: Reading = { at_us, counts, older: log.newest };
  if (action === log.action) {
    const { arm, readings, events, saved } = log;
    return { arm, newest, readings: readings + 1, events, action, saved };
  }
  const changed = logEvent(log, { kind: "action", muscle_action: action });
  return { ...changed, newest, readings: log.readings + 1, action };
}

export const logEvent = (log: SetLog, event: LogEvent): SetLog => ({
  ...log,
  events: [...log.events, { before: log.readings, event }],
});

/** The whole log, in columns. */
export const wholeLog = (log: SetLog): InputLog => columns(log, 0, 0);

export interface LogPart {
  readonly part: number;
  readonly log: InputLog;
  /** Where the log has been kept up to, once this part is. */
  readonly reach: Reach;
}

/**
 * What has come since the last part that is kept. The first carries `arm`. A part that could not be kept comes again,
 * grown, under its number: a log with a hole is worth nothing from there on.
 */
export function nextPart(log: SetLog): LogPart {
  const { saved } = log;
  const part = columns(log, saved.readings, saved.events);
  return {
    part: saved.part,
    log: saved.part === 0 ? part : { ...part, arm: null },
    reach: { part: saved.part + 1, readings: log.readings, events: log.events.length },
  };
}

/** Events keep their place within the part. */
function columns(log: SetLog, from_reading: number, from_event: number): InputLog {
  const length = log.readings - from_reading;
  const at_us = new Float64Array(length);
  const counts = new Int32Array(length);
  let index = length;
  for (let reading = log.newest; reading !== null && index > 0; reading = reading.older) {
    index -= 1;
    at_us[index] = reading.at_us;
    counts[index] = reading.counts;
  }
  const events = log.events.slice(from_event).map(({ before, event }) => ({ before: before - from_reading, event }));
  return { arm: log.arm, at_us, counts, events };
}
