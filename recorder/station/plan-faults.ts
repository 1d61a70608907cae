/** What a plan may not say at its station: a begin by it would be refused each time. Pure. */
import type { Plan, SidePlan } from "../../protocol/requests/plan.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import type { StationConfiguration } from "../configuration/schema.ts";
import { unshownLoss } from "./resolve.ts";

/** null: nothing speaks against it; what hangs on the sensor of the day is the begin's to see. */
export function faultOfPlan(plan: Plan, station: StationConfiguration): Refusal | null {
  const style = plan.style ?? station.style;
  const sides: readonly SidePlan[] = Object.values(plan.by_side).filter((side) => side !== undefined);
  const thresholds = [plan, ...sides].some(({ fatigue_threshold }) => (fatigue_threshold ?? null) !== null);
  if (!thresholds && (plan.warm_up?.fatigue_threshold ?? null) === null) return null;
  return unshownLoss(style, station.resistance)?.error ?? null;
}
