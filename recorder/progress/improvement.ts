/** Whether a trainee has got better at the dose they are on, at more than one visit. */
import type { Change, Figure } from "../../protocol/requests/trend.ts";
import { compare, type Judging, sidesOf } from "./compare.ts";
import type { Errors } from "./errors.ts";
import type { Rules } from "./rules.ts";
import type { Day, Replayed } from "./series.ts";

/** Strength, and work done to the same loss of it. Duration and mean force are parts of the latter, and say nothing more. */
const COUNTED: ReadonlySet<Figure> = new Set(["best_force_N", "impulse_N_s"]);

/**
 * The improvement as it stands now, if it stood at each of the last visits as well; else null. `days` are of one threshold, so
 * no curve has to be judged again.
 */
export function repeatedImprovement(days: readonly Day[], errors: Errors, rules: Rules & Judging): Change | null {
  let newest: Change | null = null;
  for (let back = 0; back < rules.improved_visits; back++) {
    const sides = sidesOf(days.slice(0, days.length - back), rules);
    const changes = sides === null ? [] : compare(sides, errors, NONE, rules);
    const improved = changes.find(({ figure, is_improvement }) => is_improvement && COUNTED.has(figure));
    if (improved === undefined) return null;
    newest ??= improved;
  }
  return newest;
}

const NONE: Replayed = new Map();
