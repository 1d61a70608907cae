/** What is written over and beside the drawing of a set. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { StopReason } from "../../protocol/vocabulary.ts";
import { sayInstant } from "./instants.ts";
import { type House, sayForce, sayPercent, saySeconds } from "./quantities.ts";

export function stopWords({ stop_reason, ended_because, options }: SetMessage): string {
  const limits: Readonly<Record<StopReason, string>> = {
    "hold-below-floor": `below the floor for ${saySeconds(options.grace_s)}`,
    "effort-below-floor":
      options.below_floor_to_stop === 1
        ? "an effort below the floor"
        : `${options.below_floor_to_stop} efforts in a row below the floor`,
    "let-go": "let go",
    "rest-limit": `rested longer than ${saySeconds(options.rest_limit_s, 0)}`,
    "time-limit": `as long as a set may last, ${saySeconds(options.time_limit_s, 0)}`,
    "effort-limit": `as many efforts as were wanted, ${options.effort_limit ?? "-"}`,
    "on-request": ended_because === null ? "somebody asked for it" : `somebody asked for it: ${ended_because}`,
    overload: "overload",
    "sensor-fault": "a fault of the sensor",
    interrupted: "the recorder was started anew",
  };
  return limits[stop_reason];
}

export function setTitle({ exercise_label, side, style, trainee }: SetMessage): string {
  const which = side === null ? "" : `, ${side}`;
  return `${exercise_label}${which}, ${style}: ${trainee ?? "nobody named"}`;
}

export function setLine(message: SetMessage, house: House): string {
  const { started_at, fatigue_threshold, force_loss, force_loss_uncertainty, efforts, duration_s, style } = message;
  const counted = efforts.filter((effort) => effort.counted).length;
  const margin =
    force_loss_uncertainty === null
      ? ""
      : ` (± ${sayPercent(force_loss_uncertainty, force_loss_uncertainty < 0.001 ? 2 : 1)})`;
  return [
    sayInstant(started_at, house.time_zone).slice(0, 16),
    style === "hold"
      ? saySeconds(duration_s)
      : `${counted} ${counted === 1 ? "effort" : "efforts"} in ${saySeconds(duration_s)}`,
    ...(fatigue_threshold === null ? [] : [`to a loss of ${sayPercent(fatigue_threshold)}`]),
    ...(force_loss === null ? [] : [`lost ${sayPercent(force_loss, 1)}${margin}`]),
  ].join("; ");
}

/** What nobody may miss who looks at the drawing alone. */
export function setRemarks({
  simulated,
  void: is_void,
  warm_up,
  intent,
  cut_short,
  quality,
  pain,
}: SetMessage): string[] {
  return [
    ...(simulated ? ["simulated: nobody trained"] : []),
    ...(is_void ? ["void: not to be compared"] : []),
    ...(warm_up ? ["warm-up"] : []),
    ...(intent === "held" ? ["held on purpose, not as hard as possible"] : []),
    ...(cut_short ? ["cut short"] : []),
    ...(quality.best_unconfirmed ? ["best unconfirmed"] : []),
    ...(pain === null || pain === 0 ? [] : [`pain ${pain} of 10`]),
  ];
}

/** In sentences, for who cannot see the drawing. */
export function setTold(message: SetMessage, house: House): string {
  const { best_force_N, floor_force_N, final_force_N, duration_s, resting_subtracted, set_id } = message;
  return [
    `Force in ${house.unit} against time in s. ${setLine(message, house)}.`,
    `Best ${sayForce(best_force_N, house)}, floor at the end ${sayForce(floor_force_N, house)}, final ${sayForce(final_force_N, house)}.`,
    `Stop at ${saySeconds(duration_s)}: ${stopWords(message)}.`,
    ...(resting_subtracted ? ["The resting force is taken off."] : []),
    ...setRemarks(message).map((remark) => `${remark.slice(0, 1).toUpperCase()}${remark.slice(1)}.`),
    `Set ${set_id}.`,
  ].join(" ");
}
