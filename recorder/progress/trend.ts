/** From the days of one kind of set to what changed, what of it is real, and the next dose. */
import type { Trend } from "../../protocol/requests/trend.ts";
import { adviceOf } from "./advice.ts";
import { compare, replaysOf, sidesOf } from "./compare.ts";
import { errorsOf, sayErrors } from "./errors.ts";
import { SMALLEST_WORTHWHILE_CHANGE, SMALLEST_WORTHWHILE_CHANGE_SOURCE } from "./published.ts";
import { DEFAULT_RULES, type Rules } from "./rules.ts";
import type { Replay, Replayed, Series } from "./series.ts";

export { DEFAULT_RULES, type Rules } from "./rules.ts";
export type { Day, Figures, Replay, Replayed, Series } from "./series.ts";
export { replayKey } from "./series.ts";

export type Judged = Pick<Trend, "days" | "errors" | "smallest_worthwhile_change" | "changes" | "advice">;

/** Which stored sets must be judged again at a shallower threshold before `judge` can compare all figures: at most nine. */
export function replaysWanted({ days }: Series, rules: Rules = DEFAULT_RULES): readonly Replay[] {
  const sides = sidesOf(days, rules);
  return sides === null ? [] : replaysOf(sides);
}

/** `replayed` by `replayKey`: what is missing in it is not compared. */
export function judge(series: Series, replayed: Replayed, rules: Rules = DEFAULT_RULES): Judged {
  const { days } = series;
  const judging = { ...rules, smallest_worthwhile_change: SMALLEST_WORTHWHILE_CHANGE };
  const errors = errorsOf(days, rules);
  const sides = sidesOf(days, rules);
  return {
    days: days.map(({ ended_because: _, ...day }, index) => ({
      ...day,
      new_calibration: index > 0 && days[index - 1]?.calibration_id !== day.calibration_id,
    })),
    errors: sayErrors(errors),
    smallest_worthwhile_change: { fraction: SMALLEST_WORTHWHILE_CHANGE, source: SMALLEST_WORTHWHILE_CHANGE_SOURCE },
    changes: sides === null ? [] : compare(sides, errors, replayed, judging),
    advice: adviceOf(series, errors, judging),
  };
}
