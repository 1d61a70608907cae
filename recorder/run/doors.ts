/** The stations as control sees them: who there is, how they are, and a request carried to one of them. */
import { randomUUID } from "node:crypto";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { BeginArgs, StationRequest } from "../../protocol/requests/verbs.ts";
import type { Asker, Log, Stations } from "../control/ports.ts";
import { dayStartsAt } from "../local-day.ts";
import { NO_HISTORY, type Store } from "../ports.ts";
import { historyQuery } from "../station/beginning.ts";
import { sensorBody, stateBody } from "../station/bodies.ts";
import type { Ask, Now } from "../station/exchange.ts";
import { limitsOf } from "../station/limits.ts";
import { within } from "../within.ts";
import type { Publisher } from "./publisher.ts";
import type { StationLoop } from "./station-loop.ts";
import { uuidv7 } from "./uuid-v7.ts";

export interface DoorsOptions {
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly store: Pick<Store, "history" | "calibration">;
  readonly publisher: Publisher;
  readonly time_zone: string;
  readonly now: () => Now;
  readonly log: Log;
  /** What `status` says of the recorder itself. */
  readonly recorder: () => object;
}

export function doorsOf(options: DoorsOptions): Stations {
  const { loops, publisher } = options;
  const loopOf = (id: string): StationLoop => {
    const loop = loops.get(id);
    if (loop === undefined) throw new Error(`no station ${id}`);
    return loop;
  };
  return {
    ids: () => [...loops.keys()],
    status(station) {
      const shown = station === undefined ? [...loops.values()] : [loopOf(station)];
      const stations = shown.map(({ id, station: value }) => ({
        station: id,
        state: stateBody(value),
        sensor: sensorBody(value),
        limits: limitsOf(value),
        tags_ignored: value.desk.tags_ignored,
      }));
      return { ...options.recorder(), stations };
    },
    ask: (station, request, asker) => ask(loopOf(station), request, asker, options),
    watch(station, listener) {
      const now = options.now();
      for (const { id, station: value } of loops.values()) {
        if (station !== undefined && station !== id) continue;
        listener({ station: id, topic: "state", message: publisher.message(stateBody(value), now) });
        listener({ station: id, topic: "sensor", message: publisher.message(sensorBody(value), now) });
      }
      return publisher.watch(station, listener);
    },
  };
}

async function ask(
  loop: StationLoop,
  request: StationRequest,
  { performed_by, door }: Asker,
  options: DoorsOptions,
): Promise<Outcome> {
  const asked = { request, by: performed_by, door };
  if (request.verb === "begin") {
    const { history, warnings } = await historyFor(loop, request.args, options);
    const set_id = uuidv7(options.now().wall_ms);
    const outcome = await loop.ask(asked, (ask) => ({ kind: "begin", ask, history, set_id }));
    return warnings.length === 0 || !outcome.ok ? outcome : done(withWarnings(outcome.result, warnings));
  }
  if (request.verb === "calibration-accept") {
    return loop.ask(asked, (ask) => ({ kind: "accept", ask, calibration_id: randomUUID() }));
  }
  if (request.verb === "calibration-use") return use(loop, asked, request.args.calibration_id, options);
  return loop.ask(asked, (ask) => ({ kind: "ask", ask }));
}

async function use(
  loop: StationLoop,
  asked: Omit<Ask, "request_id">,
  calibration_id: string,
  { store, log }: DoorsOptions,
): Promise<Outcome> {
  try {
    const kept = await store.calibration(calibration_id);
    const record = kept?.station === loop.id ? kept : null;
    return await loop.ask(asked, (ask) => ({ kind: "use", ask, record }));
  } catch (error) {
    log.error({ err: error, station: loop.id }, "a calibration record could not be read");
    return refused("storage", "The record could not be read.", "The recorder's log says why.");
  }
}

/**
 * A record that cannot be read, or not now, must not keep anybody from training; it is said, and the set runs without it.
 * Nor may a begin that waited for a disk set up a set when nobody reckons with it any more.
 */
async function historyFor(loop: StationLoop, args: BeginArgs, { store, time_zone, now, log }: DoorsOptions) {
  if (args.trainee === undefined) return { history: NO_HISTORY, warnings: [] };
  const at = now();
  try {
    const query = historyQuery(loop.station, args, dayStartsAt(at.wall_ms, time_zone), at);
    return { history: await soon(store.history(query)), warnings: [] };
  } catch (error) {
    log.error({ err: error, station: loop.id }, "the trainee's record could not be read");
    return { history: NO_HISTORY, warnings: ["The trainee's record could not be read: this set runs without it."] };
  }
}

const READ_WITHIN_MS = 5000;

async function soon<T>(reading: Promise<T>): Promise<T> {
  if (await within(READ_WITHIN_MS, reading)) return reading;
  throw new Error(`the store has not answered in ${READ_WITHIN_MS / 1000} s`);
}

function withWarnings(result: unknown, more: readonly string[]): unknown {
  const { warnings, ...rest } = result as { warnings: readonly string[] };
  return { ...rest, warnings: [...warnings, ...more] };
}
