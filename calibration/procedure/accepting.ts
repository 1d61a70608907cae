/**
 * What an accept comes to: a record of new points and their checks; or, where nothing new was taken, a record of what the
 * scale in force was found to say; or why neither.
 */

import { isTooFarOff } from "../check-report/verdict.ts";
import type { Refused } from "../outcome.ts";
import type { CalibrationRecord, CheckRecord } from "../record.ts";
import { checkLines } from "../uncertainty/check-budget.ts";
import { tooUncertain } from "../uncertainty/two-point.ts";
import { expanded_N } from "../uncertainty/uncertainty.ts";
import { checkRecordOf, recordOf } from "./accepted-record.ts";
import {
  CAPTURE_RUNNING,
  checkTooFarOff,
  doesNotHold,
  LOAD_MISSING,
  NO_LOAD_CHECKED,
  NO_SCALE_TO_CHECK,
  POINTS_GONE,
  POINTS_MISSING,
  pastDue,
  UNCHECKED,
} from "./procedure-refusals.ts";
import { answered, type OpenProcedure, type ProcedureInput, type ProcedureStep } from "./procedure-state.ts";

type Accept = Extract<ProcedureInput, { kind: "accept" }>;

export function accept(state: OpenProcedure, input: Accept): ProcedureStep {
  const made = whatIsAccepted(state, input);
  if (!made.ok) return answered(state, input.request, made);
  const accepting: OpenProcedure = { ...state, accepting: true };
  const { effect, result } = made;
  return answered(accepting, input.request, { ok: true, result }, [effect]);
}

type Made =
  | {
      readonly ok: true;
      readonly effect:
        | { readonly do: "accepted"; readonly record: CalibrationRecord }
        | { readonly do: "checked"; readonly check: CheckRecord };
      readonly result: CalibrationRecord | CheckRecord;
    }
  | Refused;

function whatIsAccepted(state: OpenProcedure, input: Accept): Made {
  const { capture, unloaded, fit, checks, interrupted } = state;
  if (capture !== null) return CAPTURE_RUNNING;
  // Else a check of the old scale would be kept for what is taken to be a new one.
  if (interrupted) return POINTS_GONE;
  const { due, at, clock_synced } = input;
  if (due !== null && clock_synced && due <= at) return pastDue(due, at);
  if (unloaded === null) return checks.length === 0 ? POINTS_MISSING : foundOnly(state, input);
  return fit === null ? LOAD_MISSING : newRecord(state, input);
}

function foundOnly(state: OpenProcedure, input: Accept): Made {
  const { in_force } = state.facts;
  if (in_force === null) return NO_SCALE_TO_CHECK;
  if (!state.checks.some(({ force_N }) => force_N > 0)) return NO_LOAD_CHECKED;
  const off = input.due === null ? undefined : state.checks.find(isTooFarOff);
  if (off !== undefined) return doesNotHold({ force_N: off.force_N, relative_error: off.relative_error ?? 0 });
  const check = checkRecordOf({ ...input, by: state.by, station: state.facts.station, in_force, checks: state.checks });
  return { ok: true, effect: { do: "checked", check }, result: check };
}

function newRecord(state: OpenProcedure, input: Accept): Made {
  const { by, facts, unloaded, loads, fit, checks } = state;
  const [first] = loads;
  if (unloaded === null || fit === null || first === undefined) return LOAD_MISSING;
  const left = checks.filter(({ when }) => when === "as-left");
  if (!left.some(({ force_N }) => force_N > 0)) return UNCHECKED;
  const off = left.find(isTooFarOff);
  if (off !== undefined) return checkTooFarOff({ force_N: off.force_N, relative_error: off.relative_error ?? 0 });
  const { cell_capacity_N, working_force_N } = facts;
  const load_N = first.load.force_N;
  const budget = [...fit.budget, ...checkLines({ checks: left, load_N, cell_capacity_N })];
  const uncertain = tooUncertain(budget, working_force_N);
  if (uncertain !== null) return uncertain;
  const whole = { ...fit, budget, expanded_uncertainty_N: expanded_N(budget) };
  const record = recordOf({ ...input, by, facts, unloaded, loads, fit: whole, checks });
  return { ok: true, effect: { do: "accepted", record }, result: record };
}
