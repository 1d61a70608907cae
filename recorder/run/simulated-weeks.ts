/** The simulated gym's weeks before today, put into a new store. */
import { randomUUID } from "node:crypto";
import type { CalibrationRecord } from "../../calibration/record.ts";
import type { ImportPiece } from "../care-ports.ts";
import type { Configuration } from "../configuration/schema.ts";
import type { Store } from "../ports.ts";
import { EARLIER_PLANS, earlierVisits } from "../simulated-gym/earlier-weeks.ts";
import { performSet } from "../simulated-gym/one-set.ts";
import { stationsOf } from "../simulated-gym/scenario.ts";
import { changedPlan } from "../station/changed-plan.ts";
import { EMPTY_S, takeEarlierSet } from "./earlier-sets.ts";
import { uuidv7 } from "./uuid-v7.ts";

/** Which scale turned counts into newtons when. */
export interface Scales {
  readonly before: readonly CalibrationRecord[];
  readonly now: readonly CalibrationRecord[];
  readonly since_days: number;
}

export interface Inventing {
  readonly now_ms: number;
  readonly store: Pick<Store, "store_id" | "importPiece">;
  readonly stopped: AbortSignal;
  readonly seed: number;
}

/** What is invented is of before this run: it is kept as what comes from elsewhere is, and not announced. */
export async function inventWeeks(
  configuration: Configuration,
  { before, now, since_days }: Scales,
  { now_ms, store, stopped, seed }: Inventing,
): Promise<void> {
  const models = stationsOf(configuration, seed);
  const kept = { recorder: configuration.recorder, boot: randomUUID(), store: store.store_id };
  const owner = { saved_at: new Date(now_ms).toISOString(), performed_by: "trainer-1" };
  const plans = EARLIER_PLANS.flatMap(({ station, trainee, ...says }) => {
    return changedPlan(null, { ...says, sides: [...says.sides] }, { station, trainee, ...owner }) ?? [];
  });
  await store.importPiece({ ...NOTHING_TO_IMPORT, plans });
  const visits = earlierVisits(seed);
  let after: number | null = null;
  for (const [index, { station, trainee, begin, setup, days_ago }] of visits.entries()) {
    if (stopped.aborted) return;
    const at = configuration.station.findIndex(({ id }) => id === station);
    const [model, calibration] = [models[at], (days_ago < since_days ? now : before)[at]];
    const settings = configuration.station[at];
    if (model === undefined || calibration === undefined || settings === undefined) throw new Error(`no ${station}`);
    const wall_ms = now_ms - days_ago * DAY_MS - index * 60_000;
    const about = {
      set_id: uuidv7(wall_ms),
      station: settings,
      calibration,
      trainee: trainee.code,
      begin,
      setup,
      wall_ms,
    };
    const set = takeEarlierSet(about, kept);
    performSet(model, { trainee, seed: seed + index, empty_s: EMPTY_S, take: set.take });
    const piece: ImportPiece = {
      ...NOTHING_TO_IMPORT,
      sets: [set.toImport()],
      sets_left: visits.length - index,
      after,
    };
    after = (await store.importPiece(piece)).place;
  }
}

const DAY_MS = 24 * 3_600_000;
const NOTHING_TO_IMPORT = { calibrations: [], checks: [], tags: [], plans: [], sets: [], sets_left: 0, after: null };
