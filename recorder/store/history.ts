/** What `begin` asks the record about a trainee. Nobody named has no history. */
import { type Before, type BeforeQuery, type History, type HistoryQuery, NO_HISTORY } from "../ports.ts";
import type { Database, SqlValue } from "./database.ts";
import { newestOf } from "./kept-sets.ts";

/**
 * Comparable to the set about to begin. The last three terms are those of the indices, which are used only with them. Left
 * alone, SQLite looks for a day's sets through all that are comparable, and reads the row of each.
 */
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
    `SELECT max(best_force_N) AS today_best_force_N FROM kept_set INDEXED BY kept_set_series
     WHERE ${COMPARABLE} AND best_force_N IS NOT NULL AND started_at_ms BETWEEN ? AND ?`,
    ...key,
    ...today,
  );
  const here = database.get<{ sets: number; eccentric: number; today: number }>(
    `SELECT count(*) AS sets, count(*) FILTER (WHERE style = 'eccentric-only') AS eccentric,
       count(*) FILTER (WHERE warm_up = 0 AND void = 0 AND started_at_ms BETWEEN ? AND ?) AS today
     FROM kept_set INDEXED BY kept_set_here WHERE trainee = ? AND station = ?`,
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

/**
 * The same of a trainee as if a kept set were to begin as theirs: from the sets kept before it that had ended when it
 * began, as their highest revisions stand now. null: no such set.
 */
export function before(database: Database, { set_id, trainee, side, day_starts_at }: BeforeQuery): Before | null {
  const own = database.get<Own>(
    `SELECT first_set_seq, station, exercise, style, intent, setup, resting_subtracted, started_at_ms
     FROM kept_set WHERE set_id = ?`,
    set_id,
  );
  if (own === undefined) return null;
  const { first_set_seq, station, exercise, style, intent, setup, resting_subtracted, started_at_ms } = own;
  const earlier = [first_set_seq, new Date(started_at_ms).toISOString()] as const;
  const today_ms = Date.parse(day_starts_at);
  const best = database.get<{ today_best_force_N: number | null }>(
    `SELECT max(best_force_N) AS today_best_force_N FROM kept_set INDEXED BY kept_set_series
     WHERE ${COMPARABLE} AND best_force_N IS NOT NULL AND ${EARLIER} AND started_at_ms >= ?`,
    ...[trainee, station, exercise, style, intent, setup, resting_subtracted, side],
    ...earlier,
    today_ms,
  );
  const here = database.get<{ today: number }>(
    `SELECT count(*) AS today FROM kept_set INDEXED BY kept_set_here
     WHERE trainee = ? AND station = ? AND warm_up = 0 AND void = 0 AND ${EARLIER} AND started_at_ms >= ?`,
    trainee,
    station,
    ...earlier,
    today_ms,
  );
  const last = database.get<{ ended_at: string }>(
    `SELECT ended_at FROM kept_set WHERE trainee = ? AND ${EARLIER} ORDER BY first_set_seq DESC LIMIT 1`,
    trainee,
    ...earlier,
  );
  return {
    today_best_force_N: best?.today_best_force_N ?? null,
    set_of_day: (here?.today ?? 0) + 1,
    last_set_ended_at: last?.ended_at ?? null,
  };
}

/** Instants are ISO 8601 UTC, so their text has their order. */
const EARLIER = "first_set_seq < ? AND ended_at <= ?";

interface Own {
  readonly first_set_seq: number;
  readonly station: string;
  readonly exercise: string;
  readonly style: string;
  readonly intent: string;
  readonly setup: string;
  readonly resting_subtracted: number;
  readonly started_at_ms: number;
}
