/**
 * How a trainee's results go at a station: the store finds the days, a few sets of them are judged again at a shallower
 * threshold, and what it all means is for `progress` to say.
 */
import type { Plan } from "../../protocol/requests/plan.ts";
import { done, type Outcome } from "../../protocol/requests/response.ts";
import type { Trend } from "../../protocol/requests/trend.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { Log } from "../control/ports.ts";
import { localDates } from "../local-day.ts";
import type { Store } from "../ports.ts";
import type { Series } from "../progress/series.ts";
import { judge, type Replayed, replaysWanted } from "../progress/trend.ts";
import type { SeriesFound } from "../record-ports.ts";
import type { Now } from "../station/exchange.ts";
import { unshownLoss } from "../station/resolve.ts";
import { setupNotesOf } from "../station/setup-notes.ts";
import type { Publisher } from "./publisher.ts";
import { RememberedReplays } from "./remembered-replays.ts";
import type { StationLoop } from "./station-loop.ts";
import { rounded } from "./trend-rounding.ts";

export interface TrendPorts {
  readonly loops: ReadonlyMap<string, Pick<StationLoop, "station">>;
  readonly store: Pick<Store, "series" | "seriesDays" | "plan" | "set">;
  /** Of erased sets nothing is remembered. */
  readonly publisher: Pick<Publisher, "watch">;
  readonly time_zone: string;
  readonly now: () => Now;
  readonly log: Pick<Log, "error">;
}

/** Exercises, sides, styles and intents in one answer. */
const SERIES = 8;
/** Days in one answer, of all its series: half a kilobyte each, and the answer ends at 512 KiB as a page of sets does. */
const DAYS = 800;
/** So many are judged however few are shown: what a display has room for must not change the advice. */
const LEAST_JUDGED = 100;

/** Rejects as the store does. */
export function trending(ports: TrendPorts): (args: ArgsOf<"trend">) => Promise<Outcome> {
  const replays = new RememberedReplays(ports.store, ports.log);
  ports.publisher.watch(undefined, ({ topic, message }) => {
    if (topic === "set" && "erased" in message) replays.forget();
  });
  return (args) => trend(args, ports, replays);
}

async function trend(args: ArgsOf<"trend">, ports: TrendPorts, replays: RememberedReplays): Promise<Outcome> {
  const { station, trainee, from, to } = args;
  const found = await ports.store.series({ ...args, limit: SERIES });
  const plan = found.length === 0 ? null : await ports.store.plan(station, trainee);
  // What is asked up to a day is judged as on that day.
  const now_ms = ports.now().wall_ms;
  const today = localDates(ports.time_zone)(to === undefined ? now_ms : Math.min(now_ms, Date.parse(to) - 1));
  const limit = Math.min(args.limit, Math.floor(DAYS / Math.max(1, found.length)));
  const trends: Trend[] = [];
  // One request after the other: what a station has to keep meanwhile comes in between.
  for (const one of found) {
    const { exercise_label, ...series } = one;
    const query = {
      station,
      trainee,
      from,
      to,
      series,
      time_zone: ports.time_zone,
      limit: Math.max(limit, LEAST_JUDGED),
    };
    const { more, ...days } = await ports.store.seriesDays(query);
    const judged: Series = {
      ...days,
      style: one.style,
      intent: one.intent,
      threshold_meant: isThresholdMeant(station, one, ports),
      today,
      plan: plan === null || !isPlanOf(plan, one) ? null : planned(plan, one),
    };
    const replayed = await replays.of(replaysWanted(judged));
    trends.push(rounded(shortened(trendOf(one, judged, replayed, more), limit)));
  }
  return done({ station, trainee, trends });
}

function trendOf(found: SeriesFound, series: Series, replayed: Replayed, more: boolean): Trend {
  const { exercise, exercise_label, side, style, intent, setup, resting_subtracted } = found;
  const { days, errors, smallest_worthwhile_change, changes, advice } = judge(series, replayed);
  return {
    exercise,
    exercise_label: exercise_label ?? exercise,
    side,
    style,
    intent,
    setup: setupNotesOf(setup),
    resting_subtracted,
    days,
    more,
    days_of_other_setup: series.other_setup?.days ?? 0,
    errors,
    smallest_worthwhile_change,
    changes,
    advice,
  };
}

/** The newest so many days. */
function shortened(trend: Trend, limit: number): Trend {
  if (trend.days.length <= limit) return trend;
  const [first, ...later] = trend.days.slice(-limit);
  return { ...trend, days: first === undefined ? [] : [{ ...first, new_calibration: false }, ...later], more: true };
}

function isThresholdMeant(station: string, { style }: SeriesFound, { loops }: TrendPorts): boolean {
  const configuration = loops.get(station)?.station.configuration;
  return configuration === undefined || unshownLoss(style, configuration.resistance) === null;
}

/** What the plan leaves open it says for everything. */
function isPlanOf(plan: Plan, { exercise, style, side, intent }: SeriesFound): boolean {
  const own = side === null ? undefined : plan.by_side[side];
  const meant = own?.intent ?? plan.intent;
  const sides = plan.sides.length === 0 || (side !== null && plan.sides.includes(side));
  return (
    sides && (plan.exercise ?? exercise) === exercise && (plan.style ?? style) === style && (meant ?? intent) === intent
  );
}

function planned(plan: Plan, { side }: SeriesFound): NonNullable<Series["plan"]> {
  const own = side === null ? undefined : plan.by_side[side];
  return { fatigue_threshold: own?.fatigue_threshold ?? plan.fatigue_threshold, rest_s: plan.rest_s };
}
