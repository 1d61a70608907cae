/** What a day of a series is told by: its first set's figures, the pain of all its sets, and the rest before it. */
import type { EndedBecause } from "../../protocol/vocabulary.ts";
import type { PainDay, SeriesDay } from "../record-ports.ts";
import type { Database } from "./database.ts";

type DaysPain = Omit<PainDay, "day">;

interface DayRow
  extends Omit<
    SeriesDay,
    "day" | "started_at" | "reached_threshold" | "best_unconfirmed" | "simulated" | "calibration_id"
  > {
  readonly started_at_ms: number;
  readonly reached_threshold: number | null;
  readonly best_unconfirmed: number | null;
  readonly simulated: number | null;
  readonly calibration_id: string | null;
}

/** From the set's narrow row, as its highest revision stands. What a rotten message did not tell is not known. */
export function figuresOf(
  database: Database,
  day: string,
  first_set_seq: number,
  days: DaysPain | undefined,
): SeriesDay {
  const row = database.get<DayRow>(
    `SELECT set_id, set_seq, started_at_ms, fatigue_threshold, reached_threshold, best_force_N, impulse_N_s, duration_s,
       mean_force_N, mean_effort_force_N, force_loss, expanded_uncertainty_N, calibration_id, zero_shift_N,
       best_unconfirmed, simulated, pain, ended_because
     FROM kept_set WHERE first_set_seq = ?`,
    first_set_seq,
  );
  if (row === undefined) throw new Error("a set of the index is not in the table");
  const { started_at_ms, ...figures } = row;
  return {
    day,
    ...figures,
    started_at: new Date(started_at_ms).toISOString(),
    reached_threshold: row.reached_threshold === 1,
    best_unconfirmed: row.best_unconfirmed === 1,
    simulated: row.simulated === 1,
    calibration_id: row.calibration_id ?? "",
    pain: days?.pain ?? null,
    ended_because: days?.ended === true ? "pain" : row.ended_because,
  };
}

interface PainQuery {
  readonly station: string;
  readonly trainee: string;
  /** Newest first. */
  readonly stretch: readonly { readonly day: string; readonly from_ms: number; readonly to_ms: number }[];
  /** Nothing is looked at from then on, but for the newest day's own. */
  readonly until_ms: number;
  readonly localDate: (wall_ms: number) => string;
}

/** The longest local day, where a clock is put back. */
const DAY_MS = 25 * 3_600_000;

/** By local date, of all sets of a trainee at a station, void and cut short ones too: it hurt all the same. */
export function painOf(database: Database, query: PainQuery): ReadonlyMap<string, DaysPain> {
  const found = new Map<string, DaysPain>();
  const [newest, oldest] = [query.stretch[0], query.stretch.at(-1)];
  if (newest === undefined || oldest === undefined) return found;
  const rows = database.all<{ started_at_ms: number; pain: number | null; ended_because: EndedBecause | null }>(
    `SELECT started_at_ms, pain, ended_because FROM kept_set INDEXED BY kept_set_pain
     WHERE trainee = ? AND station = ? AND started_at_ms BETWEEN ? AND ? AND (pain IS NOT NULL OR ended_because = 'pain')`,
    ...[query.trainee, query.station, oldest.from_ms - DAY_MS, Math.max(newest.to_ms + DAY_MS, query.until_ms)],
  );
  for (const row of rows) {
    const day = query.localDate(row.started_at_ms);
    if (day > newest.day && row.started_at_ms >= query.until_ms) continue;
    const before = found.get(day);
    const pain = row.pain === null ? (before?.pain ?? null) : Math.max(row.pain, before?.pain ?? 0);
    found.set(day, { pain, ended: before?.ended === true || row.ended_because === "pain" });
  }
  return found;
}

/** The last day after that one. */
export function painSince(found: ReadonlyMap<string, DaysPain>, after: string): PainDay | null {
  const [day, said] = [...found].sort(([one], [other]) => (one < other ? 1 : -1))[0] ?? [];
  return day === undefined || said === undefined || day <= after ? null : { day, ...said };
}

/** From the end of this trainee's set before that one, anywhere, s; null: there was none, or a clock says it ended later. */
export function restedBefore(database: Database, trainee: string, first_set_seq: number): number | null {
  const row = database.get<{ ended_at: string; started_at_ms: number }>(
    `SELECT ended_at, (SELECT started_at_ms FROM kept_set WHERE first_set_seq = ?) AS started_at_ms FROM kept_set
     WHERE trainee = ? AND first_set_seq < ? ORDER BY first_set_seq DESC LIMIT 1`,
    ...[first_set_seq, trainee, first_set_seq],
  );
  if (row === undefined) return null;
  const rested_s = (row.started_at_ms - Date.parse(row.ended_at)) / 1000;
  return rested_s >= 0 ? rested_s : null;
}
