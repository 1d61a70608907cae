/**
 * The two-point calibration of one station, as a reducer: begin, unloaded point, load point, accept, or abandon.
 *
 * It never touches the record in force: an accepted calibration leaves as the effect `accepted`, and whoever keeps
 * records decides from there; the procedure stays open, with its points, until told that the record is kept. A load point is kept only when the pair already makes a good scale, so accept has nothing
 * left to refuse. A new unloaded point drops the load point, and a new epoch drops both: a pair is of one sitting.
 *
 * Readings are median-filtered counts at device time in us, forces N. Instants (`now`, `at`, `due`) are ISO 8601 texts
 * that only pass through. Every request is answered exactly once; an input that fits no case below changes nothing.
 */
import { type LoadedPoint, recordOf } from "./accepted-record.ts";
import { type CellFacts, type KnownLoad, knownLoad, type LoadRequest, type PlaceFacts } from "./known-load.ts";
import { type Outcome, refusal } from "./outcome.ts";
import {
  ACCEPT_RUNNING,
  busyCalibrating,
  CAPTURE_RUNNING,
  NOT_OPEN,
  stillCold,
  UNLOADED_FIRST,
} from "./procedure-refusals.ts";
import type { CalibrationRecord } from "./record.ts";
import {
  CAPTURE_BEGUN,
  DWELL_US,
  type StillLimits,
  type StillPoint,
  type StillWindow,
  stepStillWindow,
  WINDOW_US,
} from "./still-window.ts";
import { fitTwoPoint, stillLimit_counts } from "./two-point.ts";
import { warmUpLeft_s } from "./warm-up.ts";

/** What the board said of itself, and since when it has power. */
export interface BoardFacts {
  readonly board: string | null;
  readonly amplifier: string | null;
  readonly gain: number | null;
  /** Device time of the board's start, where it was seen in this epoch; null: not seen, taken as warm. */
  readonly powered_up_at_us: number | null;
}

/** What the procedure must know of its station. */
export interface ProcedureFacts extends CellFacts, PlaceFacts, BoardFacts {
  readonly station: string;
  /** Scale of the record in force, to judge stillness by; null: none. */
  readonly counts_per_N: number | null;
  /** Settling time before a still window and its length; left out: 20 s and 3 s. */
  readonly dwell_us?: number;
  readonly window_us?: number;
}

interface Capture {
  readonly request: string;
  /** null: the unloaded point. */
  readonly load: KnownLoad | null;
  readonly window: StillWindow;
}

export interface OpenProcedure {
  readonly is: "open";
  readonly by: string | null;
  readonly since: string;
  readonly facts: ProcedureFacts;
  readonly capture: Capture | null;
  readonly unloaded: StillPoint | null;
  readonly loaded: LoadedPoint | null;
  /** Its record is made and on the way to be kept; until it is known how that went, nothing else is done. */
  readonly accepting: boolean;
}

export type Procedure = { readonly is: "closed" } | OpenProcedure;

export type ProcedureInput =
  | {
      readonly kind: "begin";
      readonly request: string;
      readonly by: string | null;
      readonly now: string;
      readonly facts: ProcedureFacts;
    }
  | { readonly kind: "zero"; readonly request: string }
  | ({ readonly kind: "load"; readonly request: string } & LoadRequest)
  | {
      readonly kind: "accept";
      readonly request: string;
      readonly note: string | null;
      readonly due: string | null;
      readonly calibration_id: string;
      readonly at: string;
    }
  /** Whoever keeps records has kept the accepted one, or could not. */
  | { readonly kind: "stored"; readonly ok: boolean }
  | { readonly kind: "abandon"; readonly request: string }
  | { readonly kind: "reading"; readonly at_us: number; readonly counts: number }
  /** The amplifier failed or fell silent. `detail` is one sentence. */
  | { readonly kind: "fault"; readonly detail: string }
  /** The line was opened again or the board restarted: device time starts anew. */
  | ({ readonly kind: "epoch" } & BoardFacts);

export type ProcedureEffect =
  | { readonly do: "answer"; readonly request: string; readonly outcome: Outcome }
  | { readonly do: "accepted"; readonly record: CalibrationRecord };

export interface ProcedureStep {
  readonly state: Procedure;
  readonly effects: readonly ProcedureEffect[];
}

export const NO_PROCEDURE: Procedure = { is: "closed" };
const NOTHING: readonly ProcedureEffect[] = [];
const AMPLIFIER_RANGE_COUNTS = 2 ** 23;

export function stepProcedure(state: Procedure, input: ProcedureInput): ProcedureStep {
  if (state.is === "closed") return whileClosed(state, input);
  if (state.accepting && "request" in input && input.kind !== "begin") {
    return answered(state, input.request, ACCEPT_RUNNING);
  }
  switch (input.kind) {
    case "begin":
      return answered(state, input.request, { ok: false, error: busyCalibrating(state) });
    case "reading":
      return state.capture === null ? { state, effects: NOTHING } : capture(state, state.capture, input);
    case "zero":
      return beginCapture(state, input.request, null);
    case "load":
      return beginLoad(state, input);
    case "accept":
      return accept(state, input);
    case "stored":
      if (!state.accepting) return { state, effects: NOTHING };
      return { state: input.ok ? NO_PROCEDURE : { ...state, accepting: false }, effects: NOTHING };
    case "abandon": {
      const left = endCapture(
        state,
        refusal("expired", "The calibration was abandoned before its window was complete."),
      );
      return answered(NO_PROCEDURE, input.request, { ok: true, result: { abandoned: true } }, left.effects);
    }
    case "fault":
      return endCapture(state, refusal("sensor-fault", input.detail, "Put it right, then take the point again."));
    case "epoch": {
      const restarted = refusal("sensor-fault", "The sensor's line was interrupted: the points taken so far are gone.");
      const { board, amplifier, gain, powered_up_at_us } = input;
      const facts = { ...state.facts, board, amplifier, gain, powered_up_at_us };
      return endCapture({ ...state, facts, unloaded: null, loaded: null }, restarted);
    }
  }
}

function whileClosed(state: Procedure, input: ProcedureInput): ProcedureStep {
  switch (input.kind) {
    case "begin": {
      const { facts } = input;
      const opened: OpenProcedure = {
        is: "open",
        by: input.by,
        since: input.now,
        facts,
        capture: null,
        unloaded: null,
        loaded: null,
        accepting: false,
      };
      const { dwell_us, window_us } = limitsOf(opened);
      const result = { station: facts.station, since: input.now, dwell_s: dwell_us / 1e6, window_s: window_us / 1e6 };
      return answered(opened, input.request, { ok: true, result });
    }
    case "zero":
    case "load":
    case "accept":
    case "abandon":
      return answered(state, input.request, NOT_OPEN);
    default:
      return { state, effects: NOTHING };
  }
}

function beginLoad(state: OpenProcedure, input: { readonly request: string } & LoadRequest): ProcedureStep {
  if (state.unloaded === null && state.capture === null) return answered(state, input.request, UNLOADED_FIRST);
  const known = knownLoad(input, state.facts, state.facts);
  return known.ok ? beginCapture(state, input.request, known.load) : answered(state, input.request, known);
}

function beginCapture(state: OpenProcedure, request: string, load: KnownLoad | null): ProcedureStep {
  if (state.capture !== null) return answered(state, request, CAPTURE_RUNNING);
  return { state: { ...state, capture: { request, load, window: CAPTURE_BEGUN } }, effects: NOTHING };
}

function capture(
  state: OpenProcedure,
  running: Capture,
  reading: { readonly at_us: number; readonly counts: number },
): ProcedureStep {
  const cold_s = warmUpLeft_s(reading.at_us, state.facts.powered_up_at_us);
  if (cold_s > 0) return endCapture(state, stillCold(cold_s));
  const limits = limitsOf(state);
  const { state: window, result } = stepStillWindow(running.window, reading.at_us, reading.counts, limits);
  if (result === null) return { state: { ...state, capture: { ...running, window } }, effects: NOTHING };
  if (!result.ok) return endCapture(state, result);
  const { point } = result;
  const captured = { mean_counts: point.mean_counts, standard_error_counts: point.standard_error_counts };
  if (running.load === null || state.unloaded === null) {
    return endCapture({ ...state, unloaded: point, loaded: null }, { ok: true, result: captured });
  }
  const made = fitTwoPoint(state.unloaded, point, running.load, state.facts, limits.window_us);
  if (!made.ok) return endCapture(state, made);
  const warnings = made.fit.counts_per_N < 0 ? ["The wires are reversed; the calibration takes care of it."] : [];
  const loaded: LoadedPoint = { load: running.load, point, fit: made.fit };
  return endCapture(
    { ...state, loaded },
    { ok: true, result: { ...captured, force_N: running.load.force_N, warnings } },
  );
}

function limitsOf(state: OpenProcedure): StillLimits {
  const { dwell_us = DWELL_US, window_us = WINDOW_US, counts_per_N, cell_capacity_N } = state.facts;
  // Without a scale, 0.1 % of the amplifier's range stands in; the pair is judged in newtons once it has one.
  const moving_counts = stillLimit_counts(cell_capacity_N, counts_per_N ?? AMPLIFIER_RANGE_COUNTS / cell_capacity_N);
  return { dwell_us, window_us, moving_counts, counts_per_N };
}

function accept(state: OpenProcedure, input: Extract<ProcedureInput, { kind: "accept" }>): ProcedureStep {
  if (state.capture !== null) return answered(state, input.request, CAPTURE_RUNNING);
  if (state.unloaded === null || state.loaded === null) {
    const missing = state.unloaded === null ? "The unloaded point and the load point are" : "The load point is";
    const hint = "Take what is missing with calibration-zero and calibration-load.";
    return answered(state, input.request, refusal("bad-request", `${missing} missing.`, hint));
  }
  const { by, facts, unloaded, loaded } = state;
  const record = recordOf({ ...input, by, facts, unloaded, loaded });
  const accepting: OpenProcedure = { ...state, accepting: true };
  return answered(accepting, input.request, { ok: true, result: record }, [{ do: "accepted", record }]);
}

/** Ends a running capture with its answer; without one nothing is said. */
function endCapture(state: OpenProcedure, outcome: Outcome): ProcedureStep {
  if (state.capture === null) return { state, effects: NOTHING };
  return answered({ ...state, capture: null }, state.capture.request, outcome);
}

function answered(
  state: Procedure,
  request: string,
  outcome: Outcome,
  before: readonly ProcedureEffect[] = NOTHING,
): ProcedureStep {
  return { state, effects: [...before, { do: "answer", request, outcome }] };
}
