/** Plans: what a trainee does at a station, as their trainer decided it. */
import { isDeepStrictEqual } from "node:util";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { Store } from "../ports.ts";
import { changedPlan } from "../station/changed-plan.ts";
import { instant, type Now } from "../station/exchange.ts";
import { faultOfPlan } from "../station/plan-faults.ts";
import type { StationLoop } from "./station-loop.ts";
import type { InTurn } from "./turns.ts";

export interface PlanningPorts {
  readonly loops: ReadonlyMap<string, Pick<StationLoop, "station">>;
  readonly store: Pick<Store, "plan" | "plans" | "savePlan">;
  readonly inTurn: InTurn;
  readonly now: () => Now;
}

export async function plans(
  { station, trainee, after_trainee }: ArgsOf<"plan">,
  { store }: Pick<PlanningPorts, "store">,
): Promise<Outcome> {
  if (trainee === undefined) return done({ station, ...(await store.plans({ station, after_trainee })) });
  const plan = await store.plan(station, trainee);
  return done({ station, plans: plan === null ? [] : [plan], more: false });
}

/** One after the other: each change is laid over what the one before left. */
export function savePlan(args: ArgsOf<"plan-save">, { loops, store, inTurn, now }: PlanningPorts): Promise<Outcome> {
  const { station, trainee, performed_by: by, remove, ...changes } = args;
  return inTurn(async () => {
    const known = await store.plan(station, trainee);
    const performed_by = by ?? null;
    const saved_at = instant(now());
    const plan = remove === true ? null : changedPlan(known, changes, { station, trainee, performed_by, saved_at });
    if (same(plan, known)) return done({ plan: known, changed: false });
    const loop = loops.get(station);
    const fault = plan === null || loop === undefined ? null : faultOfPlan(plan, loop.station.configuration);
    if (fault !== null) return refused(fault.code, fault.message, fault.hint);
    await store.savePlan({ station, trainee, saved_at, performed_by, plan });
    return done({ plan, changed: true });
  });
}

/** When and by whom it was saved is no change, nor is the order in which it says what it says. */
const same = (plan: object | null, known: object | null): boolean => isDeepStrictEqual(saidBy(plan), saidBy(known));
const saidBy = (plan: object | null): object | null => plan && { ...plan, saved_at: null, performed_by: null };
