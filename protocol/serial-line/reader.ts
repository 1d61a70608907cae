/**
 * A line source of either dialect: lines and their arrivals in, readings with time out. Pure, and the same for both, so
 * that nothing downstream asks what the board speaks. Input that a state has no use for (a line of a closed source)
 * changes nothing and yields nothing.
 */
import { BARE_CLOSED, type BareSource, openBare, readBare } from "./bare.ts";
import { type Dialect, type LineEvent, type LineInput, NO_EVENTS } from "./events.ts";
import { openTm1, readTm1, TM1_CLOSED, type Tm1Source } from "./tm1.ts";

export type LineSource = Tm1Source | BareSource;

export interface LineStep {
  readonly state: LineSource;
  readonly events: readonly LineEvent[];
}

/** A source that has not been opened yet. `state.rejects` counts by name over its whole life. */
export function newLineSource(dialect: Dialect): LineSource {
  return dialect === "tm1" ? TM1_CLOSED : BARE_CLOSED;
}

export function readLine(state: LineSource, input: LineInput): LineStep {
  switch (input.kind) {
    case "line":
      return state.dialect === "tm1"
        ? readTm1(state, input.text, input.arrived_at_us)
        : readBare(state, input.text, input.arrived_at_us);
    case "opened":
      return state.dialect === "tm1" ? openTm1(state) : openBare(state);
    case "closed":
      return { state: { ...state, mode: "closed" }, events: NO_EVENTS };
  }
}
