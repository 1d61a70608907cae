/**
 * What was new of a set against the newest comparable one of an earlier day. A difference is called a change only where the
 * trend says that it is real; else it is said to be no more than days differ by themselves.
 */
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { Figure, Trend, TrendDay, TrendResult } from "../../../protocol/requests/trend.ts";
import { type House, sayField, sayPercent } from "../quantities.ts";

/** In the order of the `set` message. */
const SHOWN: readonly Figure[] = ["duration_s", "best_force_N", "impulse_N_s", "mean_force_N"];
const NAMES: Readonly<Record<Figure, string>> = {
  duration_s: "Time",
  best_force_N: "Best",
  impulse_N_s: "Impulse",
  mean_force_N: "Mean force",
};

/** Sentences; what cannot be compared is said with its reason. `day` is that of the visit. */
export function against(
  set: SetMessage,
  day: string,
  result: TrendResult | undefined,
  house: House,
): readonly string[] {
  const why = notComparable(set);
  if (why !== null) return [`Not compared with other days: ${why}.`];
  if (result === undefined) return ["Not compared with other days: the recorder could not tell how they went."];
  const trend = result.trends.find((one) => isOf(one, set));
  const place = trend?.days.findIndex(({ set_id }) => set_id === set.set_id) ?? -1;
  if (trend === undefined || place === -1) {
    const other = trend?.days.find((one) => one.day === day);
    return [
      other === undefined
        ? "Not compared with other days: it was done with another setup than the newest, or has no best."
        : "Not compared with other days: only the first such set of a day is.",
    ];
  }
  const now = trend.days[place] as TrendDay;
  const before = trend.days.slice(0, place).findLast((one) => one.day < day);
  if (before === undefined) return ["The first comparable set on record: there is nothing earlier to compare it with."];
  const differences = SHOWN.flatMap((figure) => difference(figure, now, before, trend, house));
  return [
    ...differences,
    ...(now.calibration_id === before.calibration_id
      ? []
      : ["The sensor was calibrated anew in between, so part of a difference may be the sensor's."]),
  ];
}

function notComparable(set: SetMessage): string | null {
  if (set.warm_up) return "a warm-up";
  if (set.void) return "it was taken out by hand";
  if (set.cut_short) return "it was cut short";
  return null;
}

const isOf = (trend: Trend, set: SetMessage): boolean =>
  trend.exercise === set.exercise &&
  trend.side === set.side &&
  trend.style === set.style &&
  trend.intent === set.intent;

/** Without a threshold none is reached. */
const isSameDose = (one: TrendDay, other: TrendDay): boolean =>
  one.fatigue_threshold === other.fatigue_threshold &&
  (one.fatigue_threshold === null || (one.reached_threshold && other.reached_threshold));

function difference(
  figure: Figure,
  now: TrendDay,
  before: TrendDay,
  { errors, changes }: Trend,
  house: House,
): readonly string[] {
  const value = now[figure];
  const former = before[figure];
  if (value === null || former === null || former <= 0) return [];
  // All but the best mean the same only where both sets ended at the same loss.
  if (figure !== "best_force_N" && !isSameDose(now, before)) return [];
  const share = value / former - 1;
  const said = `${NAMES[figure]}: ${sayField(figure, value, house)}; on ${before.day} it was ${sayField(figure, former, house)}`;
  if (Math.abs(share) < 0.0005) return [`${said}, the same.`];
  const way = `${sayPercent(Math.abs(share), 1)} ${share > 0 ? "more" : "less"}`;
  const change = changes.find((one) => one.figure === figure);
  const error = errors.find((one) => one.figure === figure);
  const real = change?.is_real === true && Math.sign(change.change) === Math.sign(share);
  if (real && error !== undefined && Math.abs(share) > error.minimal_detectable_change) {
    return [`${said}: ${way}, a change.`];
  }
  const within =
    error === undefined
      ? ""
      : `: two days may differ by ${sayPercent(error.minimal_detectable_change, 1)} by themselves`;
  return [
    real
      ? `${said}: ${way}. Over several days it has changed; these two days alone do not show it.`
      : `${said}: ${way}, which is not shown to be a change${within}.`,
  ];
}
