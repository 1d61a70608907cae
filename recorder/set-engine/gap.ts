/** What the time between two readings means. A gap up to 0.3 s is bridged; a longer one breaks the trail; one that
 * lasts as long as silence would, ends the set. */
import { BRIDGED_GAP_S, GAP_PERIODS, lostAfter_s, type SetSetup } from "./setup.ts";

export type Interval = "steady" | "bridged" | "broken" | "lost";

export function intervalOf(setup: SetSetup, step_us: number): Interval {
  const step_s = step_us / 1e6;
  if (step_s <= GAP_PERIODS / setup.reading_rate_Hz) return "steady";
  if (step_s >= lostAfter_s(setup.reading_rate_Hz)) return "lost";
  return step_s <= BRIDGED_GAP_S ? "bridged" : "broken";
}
