/** The stations as control sees them: who there is, how they are, and a request carried to one of them. */
import { randomUUID } from "node:crypto";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { StationRequest } from "../../protocol/requests/verbs.ts";
import type { Asker, Log, Stations } from "../control/ports.ts";
import type { Store } from "../ports.ts";
import { sensorBody, stateBody } from "../station/bodies.ts";
import type { Ask, Now } from "../station/exchange.ts";
import { limitsOf } from "../station/limits.ts";
import { recordFor } from "./begin-record.ts";
import type { Publisher } from "./publisher.ts";
import type { StationLoop } from "./station-loop.ts";
import { uuidv7 } from "./uuid-v7.ts";

export interface DoorsOptions {
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly store: Pick<Store, "history" | "plan" | "today" | "calibration">;
  readonly publisher: Publisher;
  /** Who is being erased: nobody begins for them. */
  readonly erasing: ReadonlySet<string>;
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
    const { plan, history, warnings } = await recordFor(loop.station, request.args, options);
    const { trainee } = request.args;
    // After the record was asked: an erasure may have begun meanwhile.
    if (trainee !== undefined && options.erasing.has(trainee)) {
      return refused("busy", "This trainee is being erased here.", "Begin with another code.");
    }
    const { args, setup } = plan;
    const set_id = uuidv7(options.now().wall_ms);
    const by_plan = { ...asked, request: { ...request, args } };
    const outcome = await loop.ask(by_plan, (ask) => ({
      kind: "begin",
      ask,
      history,
      set_id,
      ...(setup === null ? {} : { setup }),
    }));
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

function withWarnings(result: unknown, more: readonly string[]): unknown {
  const { warnings, ...rest } = result as { warnings: readonly string[] };
  return { ...rest, warnings: [...warnings, ...more] };
}
