/**
 * What goes into a line source and what comes out of it, whichever dialect the board speaks.
 *
 * `at_us` is the time of the source: whole microseconds that never decrease over its whole life. Within an epoch it
 * runs on the board's clock (`bare`: on smoothed arrivals). The first line of an epoch stands as far behind the last
 * line before it as the host saw time pass between the two, so a gap is as long as it was; the very first line stands
 * at its arrival. `arrived_at_us` is the host's monotonic clock.
 */
import type { AmplifierFault, MuscleAction } from "../vocabulary.ts";
import type { HelloLine, Reject } from "./lines.ts";

export type Dialect = "tm1" | "bare";

export type LineInput =
  | { readonly kind: "opened" }
  /** One line as latin1, without its LF, empty ones too. */
  | { readonly kind: "line"; readonly text: string; readonly arrived_at_us: number }
  | { readonly kind: "closed" };

/** opened: the port was. restarted: the board did. clock: it went on, but its clock or count did not. */
export type EpochCause = "opened" | "restarted" | "clock";

export interface ReadingEvent {
  readonly kind: "reading";
  readonly at_us: number;
  readonly counts: number;
  readonly muscle_action: MuscleAction | null;
  /** Lines that were made but never came, or were set aside, since the reading before: nearly always readings. */
  readonly lost: number;
}

export type LineEvent =
  | ReadingEvent
  | { readonly kind: "key"; readonly at_us: number; readonly key: number; readonly pressed: boolean }
  | { readonly kind: "tag"; readonly at_us: number; readonly tag: string }
  | { readonly kind: "fault"; readonly at_us: number; readonly fault: AmplifierFault }
  | { readonly kind: "hello"; readonly at_us: number; readonly line: HelloLine; readonly restart: boolean }
  /** `error` null: done. */
  | { readonly kind: "answer"; readonly command: number; readonly error: string | null }
  | { readonly kind: "epoch"; readonly because: EpochCause }
  /** Send `identify`: time or count made no sense, and readings are set aside until a hello has come; or none came yet. */
  | { readonly kind: "identify-wanted" }
  | { readonly kind: "rejected"; readonly reject: Reject };

export type RejectCounts = Readonly<Record<Reject, number>>;

export const NO_REJECTS: RejectCounts = {
  "too-long": 0,
  "no-checksum": 0,
  "bad-checksum": 0,
  "unknown-kind": 0,
  "bad-field": 0,
  "out-of-range": 0,
};

export const NO_EVENTS: readonly LineEvent[] = [];
