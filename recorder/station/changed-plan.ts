/**
 * A plan with changes laid over it: what is left out stays, null clears, notes and options change one by one. A plan that
 * says nothing any more is none. Pure.
 */
import type { z } from "zod";
import type { Plan, planChanges, SidePlan } from "../../protocol/requests/plan.ts";

export type PlanChanges = { readonly [K in keyof typeof planChanges]?: z.infer<(typeof planChanges)[K]> };
type SideChanges = NonNullable<NonNullable<PlanChanges["by_side"]>["left"]>;

/** Whose plan it is, and who saves it when. */
export type PlanOwner = Pick<Plan, "station" | "trainee" | "saved_at" | "performed_by">;

export function changedPlan(known: Plan | null, changes: PlanChanges, owner: PlanOwner): Plan | null {
  const { station, trainee, saved_at, performed_by } = owner;
  const kept = <K extends keyof PlanChanges & keyof Plan>(name: K, blank: Plan[K]): Plan[K] => {
    const asked = changes[name] as Plan[K] | undefined;
    return asked === undefined ? ((known?.[name] as Plan[K] | undefined) ?? blank) : asked;
  };
  const plan: Plan = {
    station,
    trainee,
    sides: kept("sides", []),
    exercise: kept("exercise", null),
    style: kept("style", null),
    intent: kept("intent", null),
    fatigue_threshold: kept("fatigue_threshold", null),
    setup: merged(known?.setup, changes.setup),
    options: merged(known?.options, changes.options),
    warm_up: kept("warm_up", null),
    rest_s: kept("rest_s", null),
    by_side: changedSides(known?.by_side ?? {}, changes.by_side ?? {}),
    note: kept("note", null),
    saved_at,
    performed_by,
  };
  return saysSomething(plan, owner) ? plan : null;
}

function changedSides(known: Plan["by_side"], changes: NonNullable<PlanChanges["by_side"]>): Plan["by_side"] {
  const sides = (["left", "right", "both"] as const).flatMap((side) => {
    const change = changes[side];
    const plan = change === null ? {} : changedSide(known[side] ?? {}, change ?? {});
    return Object.keys(plan).length === 0 ? [] : [[side, plan] as const];
  });
  return Object.fromEntries(sides);
}

function changedSide(known: SidePlan, change: SideChanges): SidePlan {
  const said = {
    fatigue_threshold: change.fatigue_threshold === undefined ? known.fatigue_threshold : change.fatigue_threshold,
    intent: change.intent === undefined ? known.intent : change.intent,
    setup: ifAny(merged(known.setup, change.setup)),
    options: ifAny(merged(known.options, change.options)),
  };
  return Object.fromEntries(Object.entries(said).filter(([, value]) => value !== null && value !== undefined));
}

/** By name, so that the same words are the same plan in whatever order they were said. */
function merged<T extends object>(
  known: T | undefined,
  change: { readonly [K in keyof T]?: T[K] | null | undefined } | null | undefined,
): T {
  if (change === null) return {} as T;
  const all = Object.entries({ ...known, ...change }).filter(([, value]) => value !== null && value !== undefined);
  return Object.fromEntries(all.sort(([one], [other]) => (one < other ? -1 : 1))) as T;
}

const ifAny = <T extends object>(one: T): T | null => (Object.keys(one).length === 0 ? null : one);

function saysSomething(plan: Plan, owner: PlanOwner): boolean {
  const { sides, setup, options, by_side, ...rest } = plan;
  if ([sides, setup, options, by_side].some((one) => Object.keys(one).length > 0)) return true;
  return Object.entries(rest).some(([name, value]) => !Object.hasOwn(owner, name) && value !== null);
}
