/** What a station is told and what must then happen, as data. */

import type { CalibrationRecord, CheckRecord } from "../../calibration/record.ts";
import type { FoundZero } from "../../calibration/zero/zero-shift.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { StationTopic } from "../../protocol/messages/topics.ts";
import type { SetupNotes } from "../../protocol/requests/plan.ts";
import type { Outcome } from "../../protocol/requests/response.ts";
import type { StationRequest } from "../../protocol/requests/verbs.ts";
import type { History, InputLog, PutInForce, SavedZero, ZeroMoved } from "../ports.ts";
import type { SetResult } from "../set-engine/effects.ts";
import type { Erased } from "./erased.ts";
import type { SetPath } from "./set-path.ts";

/** The host's clocks at the moment of an input: monotonic ms, wall clock ms since 1970, and whether that is to be believed. */
export interface Now {
  readonly ms: number;
  readonly wall_ms: number;
  readonly clock_synced: boolean;
}

/** The wall clock's instant, ISO 8601 UTC. */
export const instant = ({ wall_ms }: Now): string => new Date(wall_ms).toISOString();

/** Which door a request came through: a refused key is blinked at whoever pressed it. */
export type AskedThrough = "key" | "socket" | "mqtt" | "simulated";

export interface Ask {
  readonly request_id: string;
  readonly request: StationRequest;
  readonly by: string | null;
  readonly door: AskedThrough;
}

export type StationInput =
  /**
   * The record in force, with the zero saved for it, from the store: at start, newly accepted, or put in force again. `due`
   * is when it is to be looked at, with its checks reckoned in; absent: its own.
   */
  | {
      readonly kind: "calibration";
      readonly record: CalibrationRecord;
      readonly zero: FoundZero | null;
      readonly due?: string | null;
    }
  /** An accepted calibration or check could not be kept, so its procedure goes on; or a record not put in force. */
  | { readonly kind: "calibration-not-kept" }
  /** An accepted check is kept. `due` as above; absent: it could not be read, and stays as it was. */
  | { readonly kind: "check-kept"; readonly due?: string | null }
  /** When the newest set the store knows of this station ended, ISO 8601 UTC: at start. */
  | { readonly kind: "took-up"; readonly last_ended_at: string }
  | { readonly kind: "opened" }
  | { readonly kind: "closed" }
  /** One line as latin1, without its LF; `arrived_at_us` on the host's monotonic clock. */
  | { readonly kind: "line"; readonly text: string; readonly arrived_at_us: number }
  /** The line is open, and a full poll after the time a gap would end a set found no bytes. */
  | { readonly kind: "silence" }
  /** Why the line is not open, in one sentence; null: it is. */
  | { readonly kind: "trouble"; readonly sentence: string | null }
  | { readonly kind: "tick" }
  /** The recorder is told to stop: what runs is kept as interrupted. */
  | { readonly kind: "stopping" }
  | { readonly kind: "ask"; readonly ask: Ask }
  /**
   * A begin, with what the record knows of the trainee, and the ids it may need. `ask` has what the trainee's plan adds, and
   * `setup` is the plan's; absent: there is none.
   */
  | {
      readonly kind: "begin";
      readonly ask: Ask;
      readonly history: History;
      readonly set_id: string;
      readonly setup?: SetupNotes;
    }
  /** An accept, with the id its record would have. */
  | { readonly kind: "accept"; readonly ask: Ask; readonly calibration_id: string }
  /** A use, with the kept record of this station it names; null: there is none. */
  | { readonly kind: "use"; readonly ask: Ask; readonly record: CalibrationRecord | null }
  /** Whom the record has a tag linked to; null: nobody. */
  | { readonly kind: "tag-owner"; readonly tag: string; readonly linked: string | null }
  /** A kept set of this station has a new revision. */
  | { readonly kind: "revised"; readonly set: SetMessage }
  /** Sets, or all of a trainee, are erased. */
  | ({ readonly kind: "erased" } & Erased)
  /** What a key or a tag asked for was refused; `asked` null: whose tag it is could not be looked up. */
  | { readonly kind: "key-refused"; readonly why: string; readonly asked: StationRequest["verb"] | null }
  /** The latch of a broken load path, from the store at start. */
  | { readonly kind: "inspect"; readonly since: string; readonly detail: string }
  /** What the store could not do; null: it can again. */
  | { readonly kind: "storage"; readonly trouble: string | null }
  | {
      readonly kind: "announcing";
      readonly trouble: string | null;
      readonly code: "not-authorised" | "recorder-conflict";
    };

/** A message without its envelope. */
export type Body = Readonly<Record<string, unknown>>;

export type StationEffect =
  // Signal: what people see, hear and subscribe to. Never waits.
  | { readonly do: "write"; readonly text: string }
  | { readonly do: "publish"; readonly topic: StationTopic; readonly body: Body }
  | { readonly do: "answer"; readonly request_id: string; readonly outcome: Outcome }
  /** A key or a tag asks for this, through the same dispatcher as every door. */
  | { readonly do: "dispatch"; readonly verb: StationRequest["verb"]; readonly args: Readonly<Record<string, unknown>> }
  /** Whom the record has this tag linked to: comes back as `tag-owner`. */
  | { readonly do: "look-up-tag"; readonly tag: string }
  /** How long a pause between readings is one, s: the line's watchdog goes by it. */
  | { readonly do: "expect-period"; readonly period_s: number }
  // Store: what must not be forgotten.
  | { readonly do: "keep"; readonly path: SetPath; readonly result: SetResult; readonly log: InputLog }
  | { readonly do: "forget"; readonly set_id: string }
  /** What becomes known of a finished set later, once it is kept: a revision. */
  | { readonly do: "revise"; readonly set_id: string; readonly changes: Pick<SetMessage, "zero_shift_N"> }
  | { readonly do: "save-zero"; readonly zero: SavedZero }
  /** Answered once the record is kept; then it comes back as `calibration`. */
  | {
      readonly do: "save-calibration";
      readonly record: CalibrationRecord;
      readonly request_id: string;
      readonly outcome: Outcome;
    }
  /** Answered once the check is kept; then `check-kept` comes back. */
  | {
      readonly do: "save-check";
      readonly check: CheckRecord;
      readonly request_id: string;
      readonly outcome: Outcome;
    }
  /** Answered once the record is in force; then it comes back as `calibration`. */
  | {
      readonly do: "use-calibration";
      readonly use: PutInForce;
      readonly request_id: string;
      readonly outcome: Outcome;
    }
  /** A confirmed zero is to be looked into, restarts or not; null: it was. */
  | { readonly do: "save-zero-moved"; readonly moved: ZeroMoved | null }
  | { readonly do: "save-inspect"; readonly latched: { readonly since: string; readonly detail: string } | null }
  | { readonly do: "log"; readonly level: "info" | "warn"; readonly text: string };

/** The one order in which effects are carried out: signal, store. Announcing follows from what the store has kept. */
export const isSignal = (effect: StationEffect): boolean => {
  switch (effect.do) {
    case "write":
    case "publish":
    case "answer":
    case "dispatch":
    case "look-up-tag":
    case "expect-period":
      return true;
    default:
      return false;
  }
};
