/** Feeding a line source in tests: inputs are frozen all the way down, so a step that writes to them throws. */
import type { Dialect, LineEvent, LineInput } from "../../../protocol/serial-line/events.ts";
import { type LineSource, newLineSource, readLine } from "../../../protocol/serial-line/reader.ts";

export interface Fed {
  readonly state: LineSource;
  readonly events: readonly LineEvent[];
}

export function feed(from: LineSource, inputs: readonly LineInput[]): Fed {
  let state = from;
  const events: LineEvent[] = [];
  for (const input of inputs) {
    const step = readLine(frozen(state), frozen(input));
    state = step.state;
    events.push(...step.events);
  }
  return { state, events };
}

/** Opened, and past its first LF. */
export function opened(dialect: Dialect, arrived_at_us = 0): LineSource {
  return feed(newLineSource(dialect), [{ kind: "opened" }, line("", arrived_at_us)]).state;
}

export const line = (text: string, arrived_at_us: number): LineInput => ({ kind: "line", text, arrived_at_us });

export const readingsOf = (events: readonly LineEvent[]) => events.filter((event) => event.kind === "reading");

function frozen<T>(value: T): T {
  if (typeof value === "object" && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const part of Object.values(value)) frozen(part);
  }
  return value;
}
