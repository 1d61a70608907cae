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
  | { readonly kind: "rejected"; readonly lines: number };

interface Reading {
  readonly at_us: number;
  readonly counts: number;
  readonly older: Reading | null;
}

interface Placed {
  readonly before: number;
  readonly event: LogEvent;
  readonly older: Placed | null;
}

export interface SetLog {
  readonly arm: ArmFacts;
  readonly newest: Reading | null;
  readonly readings: number;
  readonly newest_event: Placed | null;
  readonly events: number;
  readonly action: MuscleAction | null;
  /** Lines rejected since the newest reading or event: a line of nothing else must not grow the log. */
  readonly rejected: number;
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
  newest_event: null,
  events: 0,
  action: null,
  rejected: 0,
  saved: { part: 0, readings: 0, events: 0 },
});

export function logReading(was: SetLog, at_us: number, counts: number, action: MuscleAction | null): SetLog {
  const told = was.rejected === 0 ? was : withRejected(was);
  const log = action === told.action ? told : place(told, { kind: "action", muscle_action: action });
  const newest: Reading = { at_us, counts, older: log.newest };
  const { arm, readings, newest_event, events, saved } = log;
  return { arm, newest, readings: readings + 1, newest_event, events, action, rejected: 0, saved };
}

export function logEvent(log: SetLog, event: LogEvent): SetLog {
  if (event.kind === "rejected") return { ...log, rejected: log.rejected + event.lines };
  return place(withRejected(log), event);
}

const place = (log: SetLog, event: LogEvent): SetLog => ({
  ...log,
  newest_event: { before: log.readings, event, older: log.newest_event },
  events: log.events + 1,
});

function withRejected(log: SetLog): SetLog {
  if (log.rejected === 0) return log;
  return { ...place(log, { kind: "rejected", lines: log.rejected }), rejected: 0 };
}

/** The whole log, in columns. */
export const wholeLog = (log: SetLog): InputLog => columns(withRejected(log), 0, 0);

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
    reach: { part: saved.part + 1, readings: log.readings, events: log.events },
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
  const events: { readonly before: number; readonly event: LogEvent }[] = new Array(log.events - from_event);
  let at = events.length;
  for (let placed = log.newest_event; placed !== null && at > 0; placed = placed.older) {
    at -= 1;
    events[at] = { before: placed.before - from_reading, event: placed.event };
  }
  return { arm: log.arm, at_us, counts, events };
}
