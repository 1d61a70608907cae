/** What the record predicts of the newest day's best, and whether it lies below. */
import { daysBetween } from "./episode.ts";
import type { FigureError } from "./errors.ts";
import { levelThrough, lineThrough, onLine, predictionError } from "./line-fit.ts";
import type { Day } from "./series.ts";
import { studentT } from "./student-t.ts";

export interface Expected {
  readonly expected_N: number;
  /** The lowest that chance makes of it, 99 %. */
  readonly least_N: number;
  readonly best_N: number;
  readonly below: boolean;
}

/** Days that a line looks back on: one through a year says little of tomorrow. */
const LOOKED_BACK = 10;
/** Of fewer days a line follows chance; their mean is the better guess. */
const LINE_DAYS = 6;
/** And the mean of the newest days before: whoever has risen and stays there is not below what they have shown. */
const LEVEL_DAYS = 4;

/** The newest of `days` against those before it; null: too few. Logarithms over dates. */
export function expectedBest(days: readonly Day[], error: FigureError): Expected | null {
  const newest = days.at(-1);
  const best_N = newest?.best_force_N ?? null;
  const before = days
    .slice(0, -1)
    .slice(-LOOKED_BACK)
    .filter((day): day is Measured => day.best_force_N !== null);
  if (newest === undefined || best_N === null || before.length < LEVEL_DAYS) return null;
  const x = before.map(({ day }) => daysBetween(newest.day, day));
  const y = before.map(({ best_force_N }) => Math.log(best_force_N));
  const t = studentT(error.degrees_of_freedom, 0.99) * error.typical_error;
  const lines = [levelThrough(y.slice(-LEVEL_DAYS)), ...(y.length < LINE_DAYS ? [] : [lineThrough(x, y)])];
  const [lowest] = lines
    .map((line) => ({ expected: onLine(line, 0), least: onLine(line, 0) - t * predictionError(line, 0) }))
    .sort((one, other) => one.least - other.least);
  if (lowest === undefined) return null;
  const least_N = Math.exp(lowest.least);
  return { expected_N: Math.exp(lowest.expected), least_N, best_N, below: best_N < least_N };
}

type Measured = Day & { readonly best_force_N: number };
