/** Other settings for a set that was measured, by the rules of a begin as far as they do not need the trainee's record. Pure. */
import type { Refused } from "../../calibration/outcome.ts";
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import { fractionOut } from "../../protocol/units.ts";
import type { SetSetup } from "../set-engine/setup.ts";
import { belowFloorToStop, ceilingUnderOnset, roundedOptions, unshownLoss } from "./resolve.ts";

/** What is left out stays as it was; only how many efforts under the floor it takes follows a changed threshold. */
export function resolveAgain(
  setup: SetSetup,
  asked: Pick<BeginArgs, "fatigue_threshold" | "options">,
): { readonly ok: true; readonly setup: SetSetup } | Refused {
  const { style, resistance } = setup;
  const unshown = asked.fatigue_threshold === undefined ? null : unshownLoss(style, resistance);
  if (unshown !== null) return unshown;
  const fatigue_threshold = fractionOut(asked.fatigue_threshold ?? setup.fatigue_threshold);
  const given = Object.fromEntries(Object.entries(asked.options ?? {}).filter(([, value]) => value !== undefined));
  const kept = asked.fatigue_threshold === undefined ? setup.options.below_floor_to_stop : undefined;
  const options = roundedOptions({
    ...setup.options,
    ...given,
    rest_limit_s: style === "hold" ? null : (asked.options?.rest_limit_s ?? setup.options.rest_limit_s),
    below_floor_to_stop: belowFloorToStop(asked.options?.below_floor_to_stop ?? kept, style, fatigue_threshold, []),
  });
  return ceilingUnderOnset(options) ?? { ok: true, setup: { ...setup, fatigue_threshold, options } };
}
