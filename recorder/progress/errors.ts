/** The error that each figure is judged by: known, the trainee's own, or published. */
import { FIGURES, type Figure, type MeasurementError } from "../../protocol/requests/trend.ts";
import { daysBetween, isSameThreshold } from "./episode.ts";
import { PUBLISHED_TYPICAL_ERROR, PUBLISHED_TYPICAL_ERROR_SOURCE } from "./published.ts";
import type { Rules } from "./rules.ts";
import type { Day } from "./series.ts";
import { detectableChange, type Repeat, type TypicalError, typicalErrorOf } from "./typical-error.ts";

export interface FigureError extends TypicalError {
  readonly from: MeasurementError["from"];
  readonly source: string;
}
export type Errors = ReadonlyMap<Figure, FigureError>;

/** Published values are of strength, so the other figures have an error only where it is the trainee's own. */
export function errorsOf(days: readonly Day[], rules: Rules): Errors {
  // The days in question tell nothing of their own error: a higher newest result must not widen what it is held against.
  const earlier = days.slice(0, Math.max(0, days.length - rules.newest_days - rules.improved_visits + 1));
  const errors = FIGURES.flatMap((figure): (readonly [Figure, FigureError])[] => {
    const error = (figure === "best_force_N" ? known(rules) : null) ?? own(figure, earlier, rules);
    const said = error ?? (figure === "best_force_N" ? PUBLISHED : null);
    return said === null ? [] : [[figure, said]];
  });
  return new Map(errors);
}

/** As it is answered. */
export const sayErrors = (errors: Errors): MeasurementError[] =>
  [...errors].map(([figure, error]) => ({
    figure,
    typical_error: error.typical_error,
    degrees_of_freedom: error.degrees_of_freedom,
    from: error.from,
    source: error.source,
    minimal_detectable_change: Math.expm1(detectableChange(error, 1, 1)),
  }));

const PUBLISHED: FigureError = {
  typical_error: PUBLISHED_TYPICAL_ERROR,
  degrees_of_freedom: null,
  from: "published",
  source: PUBLISHED_TYPICAL_ERROR_SOURCE,
};

function known({ known_typical_error }: Rules): FigureError | null {
  if (known_typical_error === null) return null;
  return { typical_error: known_typical_error, degrees_of_freedom: null, from: "published", source: "Given as known." };
}

function own(figure: Figure, days: readonly Day[], rules: Rules): FigureError | null {
  // A day without the figure is passed over, so that what a day follows is what it is set against.
  const measured = days.filter((day) => (day[figure] ?? 0) > 0);
  const repeats = measured.map((day, index): Repeat => {
    const before = measured[index - 1];
    const near = before !== undefined && daysBetween(before.day, day.day) <= rules.away_days;
    return { value: day[figure] as number, follows: near && (figure === "best_force_N" || isSameDose(before, day)) };
  });
  if (repeats.length < rules.own_days) return null;
  const error = typicalErrorOf(repeats);
  if (error === null || (error.degrees_of_freedom ?? 0) < rules.least_degrees) return null;
  return {
    ...error,
    typical_error: Math.max(rules.least_typical_error, error.typical_error),
    from: "own",
    source: `Their own: ${repeats.length} days, the newest left out.`,
  };
}

/** Where the set went on for longer, there is more of all but best. */
const isSameDose = (before: Day, day: Day): boolean =>
  before.reached_threshold && day.reached_threshold && isSameThreshold(before.fatigue_threshold, day.fatigue_threshold);
