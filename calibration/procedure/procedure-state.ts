/**
 * What an open calibration holds, what it is told, and what must then happen. Types, and nothing else.
 *
 * Readings are median-filtered counts at device time in us, forces N. Instants (`now`, `at`, `due`) are ISO 8601 texts of
 * milliseconds in UTC that pass through and are compared, never made.
 */
import type { Loading } from "../../protocol/vocabulary.ts";
import type { Outcome } from "../outcome.ts";
import type { CalibrationRecord, Check, CheckRecord } from "../record.ts";
import type { Stillness } from "../stillness.ts";
import type { TwoPoint } from "../uncertainty/two-point.ts";
import type { CellFacts, KnownLoad, LoadRequest, PlaceFacts } from "./known-load.ts";
import type { StillPoint, StillWindow } from "./still-window.ts";

/** What the board said of itself, and since when it has power. */
export interface BoardFacts {
  readonly board: string | null;
  readonly amplifier: string | null;
  readonly gain: number | null;
  /** Device time of the board's start, where it was seen in this epoch; null: not seen, taken as warm. */
  readonly powered_up_at_us: number | null;
}

/** The scale that stood when the calibration began, and that as-found checks are read by. */
export interface InForce {
  readonly calibration_id: string;
  readonly counts_per_N: number;
  /** The zero in use, tracked or asked for, counts. */
  readonly zero_counts: number;
  /** How far that stands from the calibrated one, N. */
  readonly zero_shift_N: number;
}

/** What the procedure must know of its station. */
export interface ProcedureFacts extends CellFacts, PlaceFacts, BoardFacts {
  readonly station: string;
  /** What the configuration calls the cell; null: nothing. */
  readonly cell: string | null;
  /** null: no record is in force, or it is not of what is on the line. */
  readonly in_force: InForce | null;
  /** Settling time before a still window and its length; left out: 20 s and 3 s. */
  readonly dwell_us?: number;
  readonly window_us?: number;
}

/** What a still window is taken for. */
export type CaptureOf =
  | { readonly is: "zero" }
  | { readonly is: "load"; readonly load: KnownLoad; readonly loading: Loading }
  | { readonly is: "check"; readonly load: KnownLoad | null; readonly loading: Loading; readonly series: number };

export interface Capture {
  readonly request: string;
  readonly of: CaptureOf;
  readonly window: StillWindow;
}

/** The same load, reached one way. */
export interface TakenLoad {
  readonly load: KnownLoad;
  readonly loading: Loading;
  readonly point: StillPoint;
}

export interface OpenProcedure {
  readonly is: "open";
  readonly by: string | null;
  readonly since: string;
  readonly facts: ProcedureFacts;
  /** As they stood at the begin: which board `in_force` is of. */
  readonly began: ProcedureFacts;
  readonly capture: Capture | null;
  readonly unloaded: StillPoint | null;
  /** Of one load, at most once reached from below and once from above. */
  readonly loads: readonly TakenLoad[];
  /** The reading farthest from the unloaded point since a load was read; NaN: none yet. */
  readonly farthest_counts: number;
  /** The scale of the points; null: they are not complete. */
  readonly fit: TwoPoint | null;
  /** In the order they were taken. */
  readonly checks: readonly Check[];
  /** Points were taken and are gone with their epoch; until a new unloaded point nothing else makes sense. */
  readonly interrupted: boolean;
  /** Whether the sensor is still now, in counts: for whoever looks on while a load is hung. */
  readonly stillness: Stillness;
  /** Device time of the first reading since anything was asked for; NaN: none yet. */
  readonly waiting_since_us: number;
  /** Its record is made and on the way to be kept; until it is known how that went, nothing else is done. */
  readonly accepting: boolean;
}

export type Procedure = { readonly is: "closed" } | OpenProcedure;

interface Asked {
  readonly request: string;
}
interface AskedLoad extends Asked, LoadRequest {
  readonly loading?: Loading | undefined;
}

export type ProcedureInput =
  | (Asked & {
      readonly kind: "begin";
      readonly by: string | null;
      readonly now: string;
      /** Device time. */
      readonly at_us: number;
      readonly facts: ProcedureFacts;
    })
  | (Asked & { readonly kind: "zero" })
  | ({ readonly kind: "load" } & AskedLoad)
  /** A load of 0 N: with nothing on. */
  | ({ readonly kind: "check"; readonly loading: Loading; readonly series?: number | undefined } & Asked & LoadRequest)
  | (Asked & {
      readonly kind: "accept";
      readonly note: string | null;
      readonly due: string | null;
      readonly calibration_id: string;
      readonly at: string;
      /** Whether `at` is to be believed. */
      readonly clock_synced: boolean;
    })
  /** Whoever keeps records has kept the accepted one, or could not. */
  | { readonly kind: "stored"; readonly ok: boolean }
  | (Asked & { readonly kind: "abandon" })
  | { readonly kind: "reading"; readonly at_us: number; readonly counts: number }
  /** The amplifier failed or fell silent. `detail` is one sentence. */
  | { readonly kind: "fault"; readonly detail: string }
  /** The line was opened again or the board restarted: device time starts anew. */
  | ({ readonly kind: "epoch" } & BoardFacts);

export type ProcedureEffect =
  | { readonly do: "answer"; readonly request: string; readonly outcome: Outcome }
  | { readonly do: "accepted"; readonly record: CalibrationRecord }
  | { readonly do: "checked"; readonly check: CheckRecord };

export interface ProcedureStep {
  readonly state: Procedure;
  readonly effects: readonly ProcedureEffect[];
}

export const NOTHING: readonly ProcedureEffect[] = Object.freeze([]);

export function answered(
  state: Procedure,
  request: string,
  outcome: Outcome,
  before: readonly ProcedureEffect[] = NOTHING,
): ProcedureStep {
  return { state, effects: [...before, { do: "answer", request, outcome }] };
}

/** Ends a running capture with its answer; without one nothing is said. */
export function endCapture(state: OpenProcedure, outcome: Outcome): ProcedureStep {
  if (state.capture === null) return { state, effects: NOTHING };
  return answered({ ...state, capture: null }, state.capture.request, outcome);
}
