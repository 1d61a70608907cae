/**
 * A trainee's comparable sets at a station, day by day. Only narrow rows are read, newest first and no more of them than the
 * answer needs: what a trend costs must not grow with the years.
 */
import { INTENTS, SIDES, STYLES } from "../../protocol/vocabulary.ts";
import { localDates } from "../local-day.ts";
import type { SeriesDays, SeriesDaysQuery, SeriesFound, SeriesQuery } from "../record-ports.ts";
import type { Database } from "./database.ts";
import { figuresOf, painOf, painSince, restedBefore } from "./series-days.ts";

/** The terms of the index, and it is used only with them. */
const COMPARABLE = "warm_up = 0 AND void = 0 AND cut_short = 0 AND best_force_N IS NOT NULL";
const OF_KIND = `trainee = ? AND station = ? AND exercise = ? AND style = ? AND intent = ? AND side IS ? AND ${COMPARABLE}`;
const NEWEST_FIRST = "ORDER BY started_at_ms DESC, first_set_seq DESC";

/** Rows read at a time, some weeks of a busy trainee. */
const ROWS = 100;
/** So many days with another setup are counted before nobody looks farther: ten years of two a week. */
const OTHER_DAYS = 1000;

const EARLIEST_MS = Number.MIN_SAFE_INTEGER;
const LATEST_MS = Number.MAX_SAFE_INTEGER;

/** Each exercise, side, style and intent there is in the stretch of time, newest first. */
export function series(database: Database, query: SeriesQuery): readonly SeriesFound[] {
  const { from_ms, to_ms } = boundsOf(query);
  const found: (NewestRow & Pick<SeriesFound, "exercise" | "side" | "style" | "intent">)[] = [];
  const exercises = query.exercise === undefined ? exercisesOf(database, query) : [query.exercise];
  for (const exercise of exercises) {
    for (const style of query.style === undefined ? STYLES : [query.style]) {
      for (const intent of query.intent === undefined ? INTENTS : [query.intent]) {
        for (const side of query.side === undefined ? [null, ...SIDES] : [query.side]) {
          const row = database.get<NewestRow>(
            `SELECT first_set_seq, started_at_ms, setup, resting_subtracted FROM kept_set INDEXED BY kept_set_series
             WHERE ${OF_KIND} AND started_at_ms >= ? AND started_at_ms < ? ${NEWEST_FIRST} LIMIT 1`,
            ...[query.trainee, query.station, exercise, style, intent, side, from_ms, to_ms],
          );
          if (row !== undefined) found.push({ ...row, exercise, side, style, intent });
        }
      }
    }
  }
  found.sort((one, other) => other.started_at_ms - one.started_at_ms || other.first_set_seq - one.first_set_seq);
  return found.slice(0, query.limit).map(({ first_set_seq, started_at_ms, resting_subtracted, ...row }) => {
    const named = database.get<{ exercise_label: string | null }>(
      "SELECT exercise_label FROM kept_set WHERE first_set_seq = ?",
      first_set_seq,
    );
    return { ...row, exercise_label: named?.exercise_label ?? null, resting_subtracted: resting_subtracted === 1 };
  });
}

interface NewestRow {
  readonly first_set_seq: number;
  readonly started_at_ms: number;
  readonly setup: string;
  readonly resting_subtracted: number;
}

/** One step along the index for each, however many sets there are of it. */
function* exercisesOf(database: Database, { trainee, station }: SeriesQuery): Generator<string> {
  for (let after = ""; ; ) {
    const next = database.get<{ exercise: string }>(
      `SELECT exercise FROM kept_set INDEXED BY kept_set_series
       WHERE trainee = ? AND station = ? AND exercise > ? AND ${COMPARABLE} ORDER BY exercise LIMIT 1`,
      ...[trainee, station, after],
    );
    if (next === undefined) return;
    yield next.exercise;
    after = next.exercise;
  }
}

/** The newest days of a series, and how many there are of another setup beside them. */
export function seriesDays(database: Database, query: SeriesDaysQuery): SeriesDays {
  const { station, trainee, series: asked, limit } = query;
  const localDate = localDates(query.time_zone);
  const firsts: { day: string; first_set_seq: number; from_ms: number; to_ms: number }[] = [];
  const other: string[] = [];
  let more = false;
  for (const { day, rows } of daysOf(newestFirst(database, query), localDate)) {
    // Only to know whether there is one more.
    if (firsts.length === limit && rows.some((row) => isOf(asked, row))) more = true;
    if (more || other.length === OTHER_DAYS) {
      more = true;
      break;
    }
    const own = rows.filter((row) => isOf(asked, row));
    if (own.length === 0) {
      other.push(day);
      continue;
    }
    const first_set_seq = Math.min(...own.map((row) => row.first_set_seq));
    const [newest, oldest] = [rows[0] as NewestRow, rows.at(-1) as NewestRow];
    firsts.push({ day, first_set_seq, from_ms: oldest.started_at_ms, to_ms: newest.started_at_ms });
  }
  const pain = painOf(database, { station, trainee, stretch: firsts, until_ms: boundsOf(query).to_ms, localDate });
  const days = firsts.map(({ day, first_set_seq }) => figuresOf(database, day, first_set_seq, pain.get(day)));
  const [newest] = firsts;
  const [last_day] = other;
  return {
    days: days.reverse(),
    more,
    other_setup: last_day === undefined ? null : { last_day, days: other.length },
    pain_since: newest === undefined ? null : painSince(pain, newest.day),
    rested_s: newest === undefined ? null : restedBefore(database, trainee, newest.first_set_seq),
  };
}

const isOf = ({ setup, resting_subtracted }: SeriesDaysQuery["series"], row: NewestRow): boolean =>
  row.setup === setup && (row.resting_subtracted === 1) === resting_subtracted;

/** Neighbours of one local date. */
function* daysOf(rows: Iterable<NewestRow>, localDate: (wall_ms: number) => string) {
  let day: string | null = null;
  let of: NewestRow[] = [];
  for (const row of rows) {
    const date = localDate(row.started_at_ms);
    if (day !== null && date !== day) {
      yield { day, rows: of };
      of = [];
    }
    day = date;
    of.push(row);
  }
  if (day !== null) yield { day, rows: of };
}

function* newestFirst(database: Database, query: SeriesDaysQuery): Generator<NewestRow> {
  const { exercise, style, intent, side } = query.series;
  const { from_ms, to_ms } = boundsOf(query);
  let [at_ms, before] = [to_ms, EARLIEST_MS];
  while (true) {
    const rows = database.all<NewestRow>(
      `SELECT first_set_seq, started_at_ms, setup, resting_subtracted FROM kept_set INDEXED BY kept_set_series
       WHERE ${OF_KIND} AND started_at_ms >= ? AND (started_at_ms, first_set_seq) < (?, ?) ${NEWEST_FIRST} LIMIT ?`,
      ...[query.trainee, query.station, exercise, style, intent, side, from_ms, at_ms, before, ROWS],
    );
    yield* rows;
    const last = rows.at(-1);
    if (last === undefined || rows.length < ROWS) return;
    [at_ms, before] = [last.started_at_ms, last.first_set_seq];
  }
}

const boundsOf = ({ from, to }: Pick<SeriesQuery, "from" | "to">): { from_ms: number; to_ms: number } => ({
  from_ms: from === undefined ? EARLIEST_MS : Date.parse(from),
  to_ms: to === undefined ? LATEST_MS : Date.parse(to),
});
