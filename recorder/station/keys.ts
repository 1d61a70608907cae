/**
 * What a key on the machine asks for. Pure. Key 1 begins and ends a set, key 2 zeroes or takes the resting force.
 * Only presses come here; letting go of a key asks for nothing. Times are the device's, in microseconds.
 */
import type { Phase } from "../../protocol/vocabulary.ts";

export interface KeyPress {
  readonly key: number;
  readonly phase: Phase;
  /** What has the station, as the reason of a refusal; null: nothing. */
  readonly taken_by: string | null;
  /** Since any end of a set at this station, whatever ended it; disarming is none. null: none yet. */
  readonly since_end_us: number | null;
  /** The station's last `begin` or tag; null: none yet. A `trainee` of null is nobody named. */
  readonly last_named: { readonly trainee: string | null; readonly since_us: number } | null;
  /** A begin that a key or a tag asked for is not answered yet. */
  readonly beginning: boolean;
  /** A `zero` at this station was refused for wanting confirmation, at most 5 s ago. */
  readonly zero_unconfirmed: boolean;
}

export type KeyDecision =
  | {
      readonly do: "ask";
      readonly request:
        | { readonly verb: "begin"; readonly trainee: string | null }
        | { readonly verb: "end" }
        | { readonly verb: "zero"; readonly confirm: boolean }
        | { readonly verb: "resting" };
    }
  /** The press was for what had come by itself just before, or is coming: nothing is to be done, and nothing is wrong. */
  | { readonly do: "acknowledge" }
  /** Three short blinks. */
  | { readonly do: "refuse"; readonly why: string };

/** How long after an end key 1 can only have meant that end. */
const ACKNOWLEDGES_US = 3_000_000;
/** How long a station remembers who trains at it. */
const REMEMBERS_US = 600_000_000;

export function decideKey(press: KeyPress): KeyDecision {
  if (press.taken_by !== null) return refuse(press.taken_by);
  if (press.key === 1) return decideFirst(press);
  if (press.key === 2) return decideSecond(press);
  return refuse(`key ${press.key} means nothing`);
}

function decideFirst({ phase, since_end_us, last_named, beginning }: KeyPress): KeyDecision {
  switch (phase) {
    // Force is on: whatever ended a moment ago, this press can only want it to stop.
    case "working":
    case "resting":
      return { do: "ask", request: { verb: "end" } };
    case "armed":
    case "idle":
    case "finished": {
      if (since_end_us !== null && since_end_us <= ACKNOWLEDGES_US) return { do: "acknowledge" };
      if (phase === "armed") return { do: "ask", request: { verb: "end" } };
      if (beginning) return { do: "acknowledge" };
      const known = last_named !== null && last_named.since_us <= REMEMBERS_US;
      return { do: "ask", request: { verb: "begin", trainee: known ? last_named.trainee : null } };
    }
  }
}

function decideSecond({ phase, zero_unconfirmed }: KeyPress): KeyDecision {
  switch (phase) {
    case "idle":
      return { do: "ask", request: { verb: "zero", confirm: zero_unconfirmed } };
    case "armed":
      return { do: "ask", request: { verb: "resting" } };
    case "working":
    case "resting":
      return refuse("a set is running");
    case "finished":
      return refuse("somebody may still be on the machine");
  }
}

const refuse = (why: string): KeyDecision => ({ do: "refuse", why });
