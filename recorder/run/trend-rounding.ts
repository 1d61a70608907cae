/** A trend as it goes out: what was worked out is rounded once, here; what was measured was rounded when it was kept. */
import type { Change, Figure, Trend } from "../../protocol/requests/trend.ts";
import { forceOut, fractionOut, measureOut, timeOut } from "../../protocol/units.ts";

const FIGURE_OUT: Readonly<Record<Figure, (value: number | null) => number | null>> = {
  best_force_N: forceOut,
  impulse_N_s: measureOut,
  duration_s: timeOut,
  mean_force_N: forceOut,
};

export function rounded(trend: Trend): Trend {
  const { errors, smallest_worthwhile_change: smallest, changes, advice } = trend;
  return {
    ...trend,
    errors: errors.map((error) => ({
      ...error,
      typical_error: finite(fractionOut(error.typical_error)),
      degrees_of_freedom: measureOut(error.degrees_of_freedom),
      minimal_detectable_change: finite(fractionOut(error.minimal_detectable_change)),
    })),
    smallest_worthwhile_change: { ...smallest, fraction: finite(fractionOut(smallest.fraction)) },
    changes: changes.map(roundedChange),
    advice: { ...advice, fatigue_threshold: fractionOut(advice.fatigue_threshold) },
  };
}

function roundedChange(change: Change): Change {
  const out = FIGURE_OUT[change.figure];
  return {
    ...change,
    from_value: finite(out(change.from_value)),
    to_value: finite(out(change.to_value)),
    change: finite(fractionOut(change.change)),
    minimal_detectable_change: finite(fractionOut(change.minimal_detectable_change)),
    at_threshold: fractionOut(change.at_threshold),
  };
}

/** No figure of a trend is without end: a program that makes one is broken. */
function finite(value: number | null): number {
  if (value === null) throw new Error("a figure of a trend is not finite");
  return value;
}
