/**
 * One visit with known loads over the running service: begin, every step of the plan, then keep or abandon. Whatever goes
 * wrong on the way, the procedure is abandoned, and the record in force stays what it was in any case.
 */
import { z } from "zod";
import { isTooFarOff } from "../../../calibration/check-report/verdict.ts";
import { type Check, type CheckRecord, checkRecordSchema, checkSchema } from "../../../calibration/record.ts";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import type { Reply } from "../client.ts";
import { DID_NOT_HOLD, type Failure } from "../command.ts";
import type { CheckStep } from "./plan.ts";
import type { Technician } from "./technician.ts";

export interface Visit {
  readonly plan: readonly CheckStep[];
  /** Asks the service at this station. A question that is hung up comes back empty. */
  readonly ask: (verb: Verb, args: object, hangUp?: AbortSignal) => Promise<Reply>;
  readonly technician: Technician;
  /** Ctrl-C. */
  readonly interrupted: AbortSignal;
  /** Says one capture. */
  readonly say: (step: CheckStep, check: Check) => string;
  /** Shows the report before anybody decides to keep it. */
  readonly show: (checks: readonly Check[]) => void;
  readonly accept: { readonly note?: string; readonly due?: string };
}

export type Visited =
  | { readonly is: "kept"; readonly record: CheckRecord }
  | { readonly is: "not-kept"; readonly checks: readonly Check[] }
  | { readonly is: "failed"; readonly failure: Failure };

/** What a capture answers with; what it says beside the check is left out. */
const captureSchema = z.object(checkSchema.shape);

/** What a capture takes. */
const takesSchema = z.object({ dwell_s: z.number(), window_s: z.number() });
/** Of a recorder that does not say. */
const USUAL_S = 23;

const INTERRUPTED: Failure = {
  exit: DID_NOT_HOLD,
  message: "The check was broken off and nothing is kept of it: begin again when the loads are at hand.",
};
export const STRANGER: Failure = {
  exit: DID_NOT_HOLD,
  message: "The recorder answered in a way this command does not know: use the command that came with it.",
};

export async function visit(visit: Visit): Promise<Visited> {
  const begun = await visit.ask("calibration-begin", {});
  if (!begun.ok) return { is: "failed", failure: begun.failure };
  const told = takesSchema.safeParse(begun.result);
  const ended = await whileOpen(visit, told.success ? told.data.dwell_s + told.data.window_s : USUAL_S);
  if (ended.is !== "kept") await visit.ask("calibration-abandon", {});
  return ended;
}

async function whileOpen(visit: Visit, takes_s: number): Promise<Visited> {
  const { technician, interrupted } = visit;
  const checks: Check[] = [];
  for (const [index, step] of visit.plan.entries()) {
    if (interrupted.aborted) return { is: "failed", failure: INTERRUPTED };
    const taken = await take(visit, step, takes_s, `${index + 1} of ${visit.plan.length}`);
    if ("exit" in taken) return { is: "failed", failure: taken };
    checks.push(taken);
    technician.note(visit.say(step, taken));
  }
  visit.show(checks);
  const keep = !interrupted.aborted && (await technician.keep());
  if (interrupted.aborted) return { is: "failed", failure: INTERRUPTED };
  if (!keep) return { is: "not-kept", checks };
  const { due, ...rest } = visit.accept;
  const put_off = due !== undefined && !checks.some(isTooFarOff);
  if (due !== undefined && !put_off) technician.note("The record does not hold, so the day it is due is not moved.");
  return keepIt(visit, put_off ? { ...rest, due } : rest);
}

/** As often as the technician wants to try: a full disk must not cost what was hung. */
async function keepIt(visit: Visit, accept: Visit["accept"]): Promise<Visited> {
  const { technician, interrupted } = visit;
  for (;;) {
    const accepted = await visit.ask("calibration-accept", accept);
    if (accepted.ok) {
      const record = checkRecordSchema.safeParse(accepted.result);
      return record.success ? { is: "kept", record: record.data } : { is: "failed", failure: STRANGER };
    }
    const { failure } = accepted;
    const worth = failure.refusal !== undefined && (await technician.again(failure.message, failure.refusal));
    if (interrupted.aborted) return { is: "failed", failure: INTERRUPTED };
    if (!worth) return { is: "failed", failure };
  }
}

/** One capture, as often as the technician wants to try it. */
async function take(visit: Visit, step: CheckStep, takes_s: number, place: string): Promise<Check | Failure> {
  const { technician, interrupted } = visit;
  const { loading, series, request, said } = step;
  if (!(await technician.instruct(`${place}: ${step.instruction}`))) return INTERRUPTED;
  for (;;) {
    if (interrupted.aborted) return INTERRUPTED;
    const asked = visit.ask("calibration-check", { ...request, loading, series }, interrupted);
    const reply = await technician.during(said, takes_s, asked);
    if (interrupted.aborted) return INTERRUPTED;
    if (reply.ok) {
      const result = captureSchema.safeParse(reply.result);
      return result.success ? result.data : STRANGER;
    }
    const { failure } = reply;
    // Only what the recorder refused can go better the second time; a recorder that is gone stays gone.
    const worth = failure.refusal !== undefined && (await technician.again(failure.message, failure.refusal));
    if (!worth) return interrupted.aborted ? INTERRUPTED : failure;
  }
}
