/** The new scale: the lever exercised, nothing on, the load from below and, where it can be, from above. */
import {
  type CalibrationLoadResult,
  calibrationLoadResultSchema,
  calibrationZeroResultSchema,
} from "../../../protocol/requests/results.ts";
import { sayField, sayForce } from "../quantities.ts";
import { askLoad, type HungLoad, type Place } from "./loads.ts";
import { type Begun, capture, type Visit } from "./visit.ts";

export interface NewScale {
  readonly load: HungLoad;
  readonly zero_counts: number;
  readonly loaded: CalibrationLoadResult;
}

/** null: somebody wants to begin it again. */
export async function newScale(visit: Visit, begun: Begun, place: Place): Promise<NewScale | null> {
  const { dialog } = visit;
  dialog.say("\nThe scale: nothing on, then one load well known and near the working force.");
  const least_N = begun.smallest_load_N;
  const load = await askLoad(visit, begun, { question: "Which load will hang for the scale, in all?", place, least_N });
  const zero = await capture(visit, begun, {
    instruction:
      `Hang ${load.said} and take it off again, three times, so that everything settles. ` +
      "Then leave nothing on that is not always there, and hands off.",
    verb: "calibration-zero",
    args: {},
    result: calibrationZeroResultSchema,
    words: ["anew"],
  });
  if (zero.is === "word") return null;
  dialog.say(`  nothing on: ${sayPoint(zero.result)}`);
  const below = await capture(visit, begun, {
    instruction:
      `Hang ${load.said} in all${whereOf(place)}. ` +
      "Let it down gently, never past where it comes to rest, then let go.",
    verb: "calibration-load",
    args: { ...load.request, loading: "increasing" },
    result: calibrationLoadResultSchema,
    words: ["anew"],
  });
  if (below.is === "word") return null;
  sayLoaded(visit, begun, `${load.said}, from below`, below.result);
  for (const warning of below.result.warnings) dialog.say(`  ${warning}`);
  const above = await capture(visit, begun, {
    instruction:
      `Put a little more on, or press on it by hand, and come down to ${load.said} from above: no further, then let go. ` +
      "Half of the difference is friction; skipped, nobody will know how much the bearing takes.",
    verb: "calibration-load",
    args: { ...load.request, loading: "decreasing" },
    result: calibrationLoadResultSchema,
    words: ["skip", "anew"],
  });
  if (above.is === "word") {
    return above.word === "skip" ? { load, zero_counts: zero.result.mean_counts, loaded: below.result } : null;
  }
  sayLoaded(visit, begun, `${load.said}, from above`, above.result);
  dialog.say(`  friction ${sayForce(above.result.friction_N, visit.house, 2)}, either way`);
  return { load, zero_counts: zero.result.mean_counts, loaded: above.result };
}

const whereOf = ({ at, lever_angle_deg = 0 }: Place): string => {
  if (at === "cell") return " at the cell";
  return lever_angle_deg === 0
    ? " at the marked grip, the lever level"
    : ` at the marked grip, the lever ${lever_angle_deg} degrees off the level`;
};

const sayPoint = ({
  mean_counts,
  standard_error_counts,
}: Pick<CalibrationLoadResult, "mean_counts" | "standard_error_counts">): string =>
  `${mean_counts.toFixed(1)} counts, standard error ${standard_error_counts.toFixed(2)}`;

function sayLoaded({ dialog, house }: Visit, begun: Begun, said: string, loaded: NewScale["loaded"]): void {
  const { force_N, counts_per_N, expanded_uncertainty_N } = loaded;
  const [force, scale] = [sayForce(force_N, house, 2), sayField("counts_per_N", counts_per_N, house)];
  const uncertain = sayForce(expanded_uncertainty_N, house, 2);
  dialog.say(`  ${said}: ${sayPoint(loaded)}`);
  dialog.say(
    `  ${force} makes ${scale}; within ${uncertain} (k = 2) at ${sayForce(begun.working_force_N, house, 0)} so far`,
  );
}
