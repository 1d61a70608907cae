/**
 * Ten years of a busy gym written into a store, much faster than they were: twelve stations, four hundred trainees, and a few
 * who train at one station every other day. Every set has the revision that tells where its zero stood afterwards. All invented.
 */

import type { SetMessage } from "../../../protocol/messages/set.ts";
import { keepRow } from "../../../recorder/store/keeping.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { numbers } from "../../recorder/store/invented.ts";
import type { Template } from "./templates.ts";
import { EARLIEST_TRAINEE, REGULARS, STATIONS, type Station } from "./who.ts";

const DAYS = 3650;
const DAY_MS = 86_400_000;
const OPENS_MS = 7 * 3_600_000;
/** Sets in one transaction: a sync for each would take a night. */
const SETS_AT_ONCE = 5000;
const TRAINEES = 400;

interface Visit {
  readonly trainee: string;
  readonly station: Station;
  readonly sets: number;
}

/** Fills a new store; the last day is the one before `now_ms`. */
export function writeYears(path: string, sets: number, now_ms: number, templates: readonly Template[], seed = 5): void {
  const { database, store_id, methods } = openTables(path);
  const next = numbers(seed);
  const a_day = sets / DAYS;
  let written = 0;
  let pending: (() => void)[] = [];
  const flush = (): void => {
    database.transaction(() => {
      for (const write of pending) write();
    });
    pending = [];
  };
  for (let day = 0; day < DAYS; day++) {
    const visits = visitsOf(day, Math.round(a_day * (day + 1)) - written, next);
    let at_ms = now_ms - (DAYS - day) * DAY_MS - (now_ms % DAY_MS) + OPENS_MS;
    for (const { trainee, station, sets: of } of visits) {
      for (let number = 1; number <= of; number++) {
        at_ms += 180_000 * (0.5 + next());
        const template = templates[Math.floor(next() * templates.length)] as Template;
        const first = 2 * written + 1;
        const message = invented(template.message, { first, at_ms, trainee, station, number, day, next, store_id });
        pending.push(() => {
          const kept: SetMessage = { ...message, set_seq: first };
          const revised: SetMessage = { ...message, set_seq: first + 1, revision: 2, zero_shift_N: 0.4 };
          for (const one of [kept, revised]) {
            database.run(
              "INSERT INTO change_log (set_seq, set_id, revision, message, trainee) VALUES (?, ?, ?, ?, ?)",
              ...[one.set_seq, one.set_id, one.revision, JSON.stringify(one), one.trainee],
            );
          }
          keepRow(database, revised, "", first);
          database.run("INSERT INTO set_log (first_set_seq, log) VALUES (?, ?)", first, template.log);
        });
        written += 1;
        if (pending.length === SETS_AT_ONCE) flush();
      }
    }
  }
  flush();
  methods.close();
}

/** Who comes on a day, so many sets in all. */
function visitsOf(day: number, sets: number, next: () => number): readonly Visit[] {
  const visits: Visit[] = [];
  let left = sets;
  for (const [index, trainee] of REGULARS.entries()) {
    if ((day + index) % 2 === 0 || left < 3) continue;
    visits.push({ trainee, station: STATIONS[0], sets: 3 });
    left -= 3;
  }
  while (left > 0) {
    const of = Math.min(left, 2 + Math.floor(3 * next()));
    const trainee = `p-${EARLIEST_TRAINEE + Math.floor(TRAINEES * next())}`;
    visits.push({ trainee, station: STATIONS[Math.floor(STATIONS.length * next())] as Station, sets: of });
    left -= of;
  }
  return visits;
}

interface What {
  readonly first: number;
  readonly at_ms: number;
  readonly trainee: string;
  readonly station: Station;
  readonly number: number;
  readonly day: number;
  readonly next: () => number;
  readonly store_id: string;
}

function invented(like: SetMessage, what: What): SetMessage {
  const { first, at_ms, trainee, station, number, day, next, store_id } = what;
  // A slow rise over the years, and days that differ by some hundredths.
  const strength = 1 + day / 20_000 + 0.06 * (next() - 0.5);
  const side = trainee.endsWith("7") ? null : number % 2 === 0 ? "right" : "left";
  return {
    ...like,
    set_id: `01930000-0000-7000-8000-${first.toString(16).padStart(12, "0")}`,
    store: store_id,
    station,
    exercise: station,
    exercise_label: station,
    trainee,
    side,
    set_of_day: number,
    at: new Date(at_ms + 1000 * like.duration_s).toISOString(),
    started_at: new Date(at_ms).toISOString(),
    best_force_N: like.best_force_N === null ? null : Math.round(100 * like.best_force_N * strength) / 100,
    calibration_id: `6f2d1c1e-8a70-4f60-9d4c-${(Math.floor(day / 365) * 100 + STATIONS.indexOf(station)).toString(16).padStart(12, "0")}`,
    pain: next() < 0.02 ? Math.round(6 * next()) : null,
  };
}
