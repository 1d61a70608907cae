/** What a plan may not say at its station: a begin by it would be refused each time. Pure. */

import { check, sayFault } from "../../protocol/requests/faults.ts";
import { type Plan, planSchema, type SidePlan } from "../../protocol/requests/plan.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import type { StationConfiguration } from "../configuration/schema.ts";
import { onsetForce_N } from "../set-engine/setup.ts";
import { ceilingUnderOnset, unfit } from "./resolve.ts";

/** null: nothing speaks against it; what hangs on the sensor of the day is the begin's to see. */
export function faultOfPlan(plan: Plan, station: StationConfiguration): Refusal | null {
  const whole = check(planSchema, plan);
  // Each change was small enough; laid over each other they may be too much.
  if (!whole.ok) {
    const message = `The plan would not hold: ${whole.faults.map(sayFault).join("; ")}.`;
    return { code: "bad-request", message, hint: "Clear what it is not to say any more." };
  }
  const sides: readonly SidePlan[] = [{}, ...Object.values(plan.by_side).filter((side) => side !== undefined)];
  const threshold = [plan, plan.warm_up ?? {}, ...sides].some(
    (one) => ((one as SidePlan).fatigue_threshold ?? null) !== null,
  );
  const style = plan.style ?? station.style;
  const unsuited = unfit(style, threshold, station, bestSensorOf(station));
  if (unsuited !== null) return unsuited.error;
  for (const { options } of sides) {
    const { ceiling_force_N = null, onset_force_N } = { ...plan.options, ...options };
    const onset_N = onset_force_N ?? onsetForce_N({ ...station, noise_N: 0 });
    const low = ceilingUnderOnset({ ceiling_force_N, onset_force_N: onset_N });
    if (low !== null) return low.error;
  }
  return null;
}

/** As the sensor is at its best: a bare line never names a muscle action, and how fast it reads nobody has told it. */
const bestSensorOf = ({ dialect, rate }: StationConfiguration) => ({
  noise_N: 0,
  reading_rate_Hz: dialect === "bare" ? Number.POSITIVE_INFINITY : rate,
  knows_muscle_action: dialect !== "bare",
});
