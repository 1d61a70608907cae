/** Plans, each as often as it was saved: the newest counts, and one without a text was taken away. */
import type { Plan } from "../../protocol/requests/plan.ts";
import type { PlansPage, PlansQuery, PlanToSave, SetOfToday, TodayQuery } from "../record-ports.ts";
import type { Database } from "./database.ts";
import { PAGE_BYTES, readable } from "./pages.ts";

const PAGE_PLANS = 100;

export function savePlan(database: Database, { station, trainee, saved_at, performed_by, plan }: PlanToSave): void {
  database.run(
    "INSERT INTO plan (station, trainee, saved_at, performed_by, plan) VALUES (?, ?, ?, ?, ?)",
    ...[station, trainee, saved_at, performed_by, plan === null ? null : JSON.stringify(plan)],
  );
}

export function plan(database: Database, station: string, trainee: string): Plan | null {
  const row = database.get<{ plan: string | null }>(
    "SELECT plan FROM plan WHERE trainee = ? AND station = ? ORDER BY saved DESC LIMIT 1",
    trainee,
    station,
  );
  return row?.plan == null ? null : (JSON.parse(row.plan) as Plan);
}

/** By trainee. One whose text cannot be read any more is left out: it does not keep the rest from a trainer. */
export function plans(database: Database, { station, after_trainee }: PlansQuery): PlansPage {
  const rows = database.all<{ plan: string }>(
    `SELECT plan FROM plan WHERE station = ?1 AND trainee > ?2 AND plan IS NOT NULL AND saved =
       (SELECT max(saved) FROM plan AS newest WHERE newest.station = plan.station AND newest.trainee = plan.trainee)
     ORDER BY trainee LIMIT ?3`,
    ...[station, after_trainee ?? "", PAGE_PLANS + 1],
  );
  const found: Plan[] = [];
  let bytes = 0;
  for (const { plan: text } of rows.slice(0, PAGE_PLANS)) {
    bytes += Buffer.byteLength(text);
    if (found.length > 0 && bytes > PAGE_BYTES) return { plans: found, more: true };
    const read = readable<Plan>(text);
    if (read !== null) found.push(read);
  }
  return { plans: found, more: rows.length > PAGE_PLANS };
}

/** A day of the whole gym is shorter than the years of one trainee. */
export function today(database: Database, { station, trainee, day_starts_at, now }: TodayQuery): SetOfToday[] {
  return database
    .all<SetOfToday>(
      `SELECT side FROM kept_set INDEXED BY kept_set_by_start
       WHERE started_at_ms BETWEEN ? AND ? AND station = ? AND trainee = ? AND void = 0 ORDER BY first_set_seq`,
      ...[Date.parse(day_starts_at), Date.parse(now), station, trainee],
    )
    .map((row) => ({ ...row }));
}
