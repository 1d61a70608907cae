/** What the record predicts of the newest day's best, and whether it lies below. */
import { daysBetween } from "./episode.ts";
import type { FigureError } from "./errors.ts";
import { levelThrough, lineThrough, onLine, predictionError } from "./line-fit.ts";
import type { Rules } from "./rules.ts";
import { scalePart } from "./scales.ts";
import type { Day } from "./series.ts";
import { studentT } from "./student-t.ts";

export interface Expected {
  readonly expected_N: number;
  /** The lowest that chance makes of it, 99 %. */
  readonly least_N: number;
  readonly best_N: number;
  readonly below: boolean;
}

/** The newest of `days` against those before it; null: too few. Logarithms over dates. */
export function expectedBest(days: readonly Day[], error: FigureError, rules: Rules): Expected | null {
  const newest = days.at(-1);
  const best_N = newest?.best_force_N ?? null;
  const before = days
    .slice(0, -1)
    .slice(-rules.looked_back_days)
    .filter((day): day is Measured => (day.best_force_N ?? 0) > 0);
  if (newest === undefined || best_N === null || before.length < rules.level_days) return null;
  const x = before.map(({ day }) => daysBetween(newest.day, day));
  const y = before.map(({ best_force_N }) => Math.log(best_force_N));
  const { uncertainty } = scalePart(before, [newest], rules);
  const t = studentT(error.degrees_of_freedom, 0.99) * error.typical_error;
  const lines = [levelThrough(y.slice(-rules.level_days)), ...(y.length < rules.line_days ? [] : [lineThrough(x, y)])];
  const [lowest] = lines
    .map((line) => ({
      expected: onLine(line, 0),
      least: onLine(line, 0) - Math.hypot(t * predictionError(line, 0), uncertainty),
    }))
    .sort((one, other) => one.least - other.least);
  if (lowest === undefined) return null;
  const least_N = Math.exp(lowest.least);
  return { expected_N: Math.exp(lowest.expected), least_N, best_N, below: best_N < least_N };
}

type Measured = Day & { readonly best_force_N: number };
