/** What `begin` asks the record about a trainee. Nobody named has no history. */
import { type History, type HistoryQuery, NO_HISTORY } from "../ports.ts";
import type { Database, SqlValue } from "./database.ts";
import { newestOf } from "./kept-sets.ts";

/** Comparable to the set about to begin. The last three terms are those of the index, and it is used only with them. */
const COMPARABLE = `trainee = ? AND station = ? AND exercise = ? AND style = ? AND intent = ? AND setup = ?
  AND resting_subtracted = ? AND side IS ? AND warm_up = 0 AND void = 0 AND cut_short = 0`;

/**
 * Forces in N. Today runs from `day_starts_at` to `now`, both by the time a set started; its best is that of the comparable
 * sets, because forces from another exercise, intent or resting mode are not the same quantity.
 */
export function history(database: Database, query: HistoryQuery): History {
  if (query.trainee === null) return NO_HISTORY;
  const today = [Date.parse(query.day_starts_at), Date.parse(query.now)] as const;
  const key: SqlValue[] = [
    query.trainee,
    query.station,
    query.exercise,
    query.style,
    query.intent,
    query.setup,
    Number(query.resting_subtracted),
    query.side,
  ];
  const best = database.get<{ today_best_force_N: number | null }>(
    `SELECT max(best_force_N) AS today_best_force_N FROM kept_set
     WHERE ${COMPARABLE} AND started_at_ms BETWEEN ? AND ?`,
    ...key,
    ...today,
  );
  const here = database.get<{ sets: number; eccentric: number; today: number }>(
    `SELECT count(*) AS sets, count(*) FILTER (WHERE style = 'eccentric-only') AS eccentric,
       count(*) FILTER (WHERE warm_up = 0 AND void = 0 AND started_at_ms BETWEEN ? AND ?) AS today
     FROM kept_set WHERE trainee = ? AND station = ?`,
    ...today,
    query.trainee,
    query.station,
  );
  const last = database.get<{ ended_at: string }>(
    "SELECT ended_at FROM kept_set WHERE trainee = ? ORDER BY first_set_seq DESC LIMIT 1",
    query.trainee,
  );
  return {
    comparable: newestOf(database, COMPARABLE, ...key),
    today_best_force_N: best?.today_best_force_N ?? null,
    sets_here: here?.sets ?? 0,
    eccentric_sets_here: here?.eccentric ?? 0,
    set_of_day: (here?.today ?? 0) + 1,
    last_set_ended_at: last?.ended_at ?? null,
  };
}
