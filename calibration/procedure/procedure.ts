/**
 * The calibration of one station, as a reducer: begin, checks as found, unloaded point, load point, checks as left, accept;
 * or abandon. The file to read first; what a still window becomes is in `captures.ts`, what may be accepted in
 * `accepting.ts`.
 *
 * It never touches the record in force: an accepted calibration leaves as the effect `accepted`, accepted checks without
 * new points as `checked`, and whoever keeps records decides from there. The procedure stays open, with its points, until
 * told that the record is kept. A new unloaded point drops the load point and the checks of its scale, and so does a new
 * epoch, with the unloaded point: a pair is of one sitting. What was found stays. Whoever goes on after such an epoch is told
 * until there is a new unloaded point; what they take for a check of the new scale must not be read by the old one.
 *
 * Every request is answered exactly once; an input that fits no case below changes nothing.
 */

import { gravityAt_m_s2 } from "../gravity.ts";
import { refusal } from "../outcome.ts";
import { STILLNESS_UNKNOWN, stepStillness } from "../stillness.ts";
import { warmUpLeft_s } from "../warm-up.ts";
import { accept } from "./accepting.ts";
import { asFound, beginCheck, beginLoad, beginZero, capture, farthestOf } from "./captures.ts";
import { loadRange_N } from "./known-load.ts";
import { ACCEPT_RUNNING, busyCalibrating, INTERRUPTED, NOT_OPEN, stillCold } from "./procedure-refusals.ts";
import {
  answered,
  type BoardFacts,
  endCapture,
  NOTHING,
  type OpenProcedure,
  type Procedure,
  type ProcedureInput,
  type ProcedureStep,
} from "./procedure-state.ts";
import { limitsOf, rangeOf_counts } from "./still-limits.ts";

export const NO_PROCEDURE: Procedure = { is: "closed" };

/** Whoever went away, or whose laptop died, must not keep the station from everybody else: so long without a request. */
const LEFT_ALONE_US = 3_600_000_000;

export function stepProcedure(state: Procedure, input: ProcedureInput): ProcedureStep {
  if (state.is === "closed") return whileClosed(state, input);
  const step = whileOpen(state, input);
  // Asked for anything, granted or not: somebody is there.
  if (!("request" in input) || input.kind === "begin" || step.state.is === "closed") return step;
  return { ...step, state: { ...step.state, waiting_since_us: Number.NaN } };
}

function whileOpen(state: OpenProcedure, input: ProcedureInput): ProcedureStep {
  if (state.accepting && "request" in input && input.kind !== "begin") {
    return answered(state, input.request, ACCEPT_RUNNING);
  }
  switch (input.kind) {
    case "begin":
      return answered(state, input.request, { ok: false, error: busyCalibrating(state) });
    case "reading":
      return onReading(state, input);
    case "zero":
      return beginZero(state, input.request);
    case "load":
      return beginLoad(state, input);
    case "check":
      return beginCheck(state, input);
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
    case "epoch":
      return endCapture(onNewEpoch(state, input), INTERRUPTED);
  }
}

function onReading(state: OpenProcedure, input: Extract<ProcedureInput, { kind: "reading" }>): ProcedureStep {
  const { at_us, counts } = input;
  const stillness = stepStillness(state.stillness, at_us, counts, rangeOf_counts(state.facts));
  const farthest_counts = farthestOf(state, counts);
  if (state.capture !== null) return capture({ ...state, stillness, farthest_counts }, state.capture, input);
  const waiting_since_us = Number.isNaN(state.waiting_since_us) ? at_us : state.waiting_since_us;
  if (!state.accepting && at_us - waiting_since_us >= LEFT_ALONE_US) return { state: NO_PROCEDURE, effects: NOTHING };
  return { state: { ...state, stillness, farthest_counts, waiting_since_us }, effects: NOTHING };
}

function whileClosed(state: Procedure, input: ProcedureInput): ProcedureStep {
  switch (input.kind) {
    case "begin":
      return begin(state, input);
    case "zero":
    case "load":
    case "check":
    case "accept":
    case "abandon":
      return answered(state, input.request, NOT_OPEN);
    default:
      return { state, effects: NOTHING };
  }
}

function begin(state: Procedure, input: Extract<ProcedureInput, { kind: "begin" }>): ProcedureStep {
  const { facts, request, at_us } = input;
  // Whoever came with loads is told at once, and not after having hung one.
  const cold_s = warmUpLeft_s(at_us, facts.powered_up_at_us);
  if (cold_s > 0) return answered(state, request, stillCold(cold_s));
  const opened: OpenProcedure = {
    is: "open",
    by: input.by,
    since: input.now,
    facts,
    began: facts,
    capture: null,
    unloaded: null,
    loads: [],
    farthest_counts: Number.NaN,
    fit: null,
    checks: [],
    interrupted: false,
    stillness: STILLNESS_UNKNOWN,
    waiting_since_us: Number.NaN,
    accepting: false,
  };
  const { dwell_us, window_us } = limitsOf(facts);
  const { least_N, most_N } = loadRange_N(facts);
  const result = {
    station: facts.station,
    since: input.now,
    dwell_s: dwell_us / 1e6,
    window_s: window_us / 1e6,
    in_force: facts.in_force?.calibration_id ?? null,
    working_force_N: facts.working_force_N,
    cell_capacity_N: facts.cell_capacity_N,
    smallest_load_N: least_N,
    largest_load_N: most_N,
    gravity_m_s2: gravityAt_m_s2(facts.latitude_deg, facts.altitude_m),
  };
  return answered(opened, request, { ok: true, result });
}

function onNewEpoch(state: OpenProcedure, { board, amplifier, gain, powered_up_at_us }: BoardFacts): OpenProcedure {
  const { facts, began, unloaded, interrupted } = state;
  // What was in force is of the board that was there; one that has yet to say its name may still be the same.
  const same = board === began.board && amplifier === began.amplifier && gain === began.gain;
  return {
    ...state,
    facts: { ...facts, board, amplifier, gain, powered_up_at_us, in_force: same ? began.in_force : null },
    unloaded: null,
    loads: [],
    fit: null,
    checks: asFound(state.checks),
    interrupted: interrupted || unloaded !== null,
    stillness: STILLNESS_UNKNOWN,
    waiting_since_us: Number.NaN,
  };
}
