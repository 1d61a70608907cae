/** From the days of one kind of set to what changed, what of it is real, and the next dose. */
import type { Trend } from "../../protocol/requests/trend.ts";
import { DEFAULT_RULES, type Rules } from "./rules.ts";
import type { Replay, Replayed, Series } from "./series.ts";

export { DEFAULT_RULES, type Rules } from "./rules.ts";
export type { Day, Figures, Replay, Replayed, Series } from "./series.ts";
export { replayKey } from "./series.ts";

export type Judged = Pick<Trend, "days" | "errors" | "smallest_worthwhile_change" | "changes" | "advice">;

/** Which stored sets must be judged again at a shallower threshold before `judge` can compare all figures: at most nine. */
export function replaysWanted(_series: Series, _rules: Rules = DEFAULT_RULES): readonly Replay[] {
  return [];
}

/** `replayed` by `replayKey`: what is missing in it is not compared. */
export function judge(series: Series, _replayed: Replayed, rules: Rules = DEFAULT_RULES): Judged {
  return {
    days: series.days.map(({ ended_because: _, ...day }, index) => ({
      ...day,
      new_calibration: index > 0 && series.days[index - 1]!.calibration_id !== day.calibration_id,
    })),
    errors: [],
    smallest_worthwhile_change: { fraction: rules.smallest_worthwhile_change, source: "" },
    changes: [],
    advice: {
      reasons: ["Fewer than five comparable days."],
      advice: "too-few-sets",
      fatigue_threshold: null,
      limits: [],
    },
  };
}
