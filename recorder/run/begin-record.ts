/**
 * What a begin must know of a trainee before it can be resolved: the plan, and what the record held. A record that cannot be
 * read, or not now, must not keep anybody from training; it is said, and the set runs without it. Nor may a begin that
 * waited for a disk set up a set when nobody reckons with it any more.
 */
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import type { Log } from "../control/ports.ts";
import { dayStartsAt } from "../local-day.ts";
import { type History, NO_HISTORY, type Store } from "../ports.ts";
import { historyQuery } from "../station/beginning.ts";
import { instant, type Now } from "../station/exchange.ts";
import { type Planned, planned, restWarning, unplanned } from "../station/planned.ts";
import type { Station } from "../station/state.ts";
import { within } from "../within.ts";

export interface BeginRecordPorts {
  readonly store: Pick<Store, "history" | "plan" | "today">;
  readonly time_zone: string;
  readonly now: () => Now;
  readonly log: Pick<Log, "error">;
}

export interface BeginRecord {
  readonly plan: Planned;
  readonly history: History;
  /** One sentence each. */
  readonly warnings: readonly string[];
}

/** For both together. */
const READ_WITHIN_MS = 5000;

/** Never rejects. */
export async function recordFor(station: Station, args: BeginArgs, ports: BeginRecordPorts): Promise<BeginRecord> {
  const { trainee } = args;
  if (trainee === undefined) return { plan: unplanned(args), history: NO_HISTORY, warnings: [] };
  const { store, time_zone, now } = ports;
  const at = now();
  const day_starts_at = dayStartsAt(at.wall_ms, time_zone);
  const today = { station: station.configuration.id, trainee, day_starts_at, now: instant(at) };
  const left_ms = (): number => READ_WITHIN_MS - (now().ms - at.ms);

  const read = await reading(
    async () => {
      const plan = await store.plan(today.station, trainee);
      return planned(args, plan, plan === null ? [] : await store.today(today));
    },
    left_ms(),
    ports,
  );
  const plan = read ?? unplanned(args);
  const history = await reading(() => store.history(historyQuery(station, plan, day_starts_at, at)), left_ms(), ports);
  return {
    plan,
    history: history ?? NO_HISTORY,
    warnings: [
      ...(read === null ? ["The trainee's plan could not be read: this set runs without it."] : []),
      ...(history === null ? ["The trainee's record could not be read: this set runs without it."] : []),
      ...restWarning(plan, history?.last_set_ended_at ?? null, at.wall_ms),
    ],
  };
}

/** null: it could not be read, and the log says why. */
async function reading<T>(read: () => Promise<T>, within_ms: number, { log }: BeginRecordPorts): Promise<T | null> {
  try {
    const answer = read();
    if (within_ms > 0 && (await within(within_ms, answer))) return await answer;
    // Whatever comes of it later, nobody waits for it any more.
    answer.catch(() => {});
    throw new Error(`the store has not answered in ${READ_WITHIN_MS / 1000} s`);
  } catch (error) {
    log.error({ err: error }, "a trainee's record could not be read for a begin");
    return null;
  }
}
