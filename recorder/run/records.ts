/** The record as people may change it: kept sets amended, tags linked. What is changed is announced from the outbox. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { Log, Records } from "../control/ports.ts";
import { dayStartsAt } from "../local-day.ts";
import type { Store } from "../ports.ts";
import { changesOf, derivedFrom, movesInRecord } from "../station/amended-set.ts";
import { instant, type Now } from "../station/exchange.ts";
import { importCalibration } from "./importing.ts";
import { plans, savePlan } from "./planning.ts";
import type { Publisher } from "./publisher.ts";
import type { StationLoop } from "./station-loop.ts";
import { type TrendPorts, trending } from "./trending.ts";
import type { InTurn } from "./turns.ts";

export interface RecordsPorts {
  /** Where a set that is not kept may still be. */
  readonly loops: ReadonlyMap<string, Pick<StationLoop, "id" | "station">>;
  readonly store: Pick<
    Store,
    "set" | "before" | "revise" | "saveTag" | "importCalibration" | "plan" | "plans" | "savePlan"
  > &
    TrendPorts["store"];
  readonly publisher: Pick<Publisher, "topic" | "watch">;
  readonly inTurn: InTurn;
  readonly onRevised: (set: SetMessage) => void;
  readonly time_zone: string;
  readonly now: () => Now;
  readonly log: Pick<Log, "error">;
}

export function recordsOf(ports: RecordsPorts): Records {
  return {
    amend: (args, within) =>
      ports.inTurn(() => writing(ports, "A set could not be amended", () => amend(args, within, ports))),
    importCalibration: (calibration) =>
      writing(ports, "A calibration could not be imported", () =>
        importCalibration(calibration, { stations: [...ports.loops.keys()], store: ports.store }),
      ),
    plans: (args) => plans(args, ports),
    savePlan: (args) => writing(ports, "A plan could not be saved", () => savePlan(args, ports)),
    trend: trending(ports),
    saveTag: (args) => writing(ports, "A tag could not be saved", () => saveTag(args, ports)),
  };
}

async function amend(args: ArgsOf<"amend">, within: string | undefined, ports: RecordsPorts): Promise<Outcome> {
  const { store, publisher, time_zone } = ports;
  const { set_id } = args;
  const kept = await store.set(set_id);
  if (kept === null || !isWithin(within, kept.message.station)) return notKept(set_id, within, ports);
  const { message } = kept;
  let changes = changesOf(message, args);
  if (movesInRecord(changes)) {
    const amended: SetMessage = { ...message, ...changes };
    const { trainee, side, started_at } = amended;
    const day_starts_at = dayStartsAt(Date.parse(started_at), time_zone);
    const before = trainee === null ? null : await store.before({ set_id, trainee, side, day_starts_at });
    changes = { ...changes, ...derivedFrom(amended, before) };
  }
  const revised = await store.revise({
    set_id,
    changes,
    performed_by: args.performed_by ?? null,
    revised_at: instant(ports.now()),
    topic: publisher.topic(message.station, "set"),
  });
  if (revised === null) return notKept(set_id, within, ports);
  const amended = revised.revision !== message.revision;
  if (amended) ports.onRevised(revised);
  return done({ set: revised, amended });
}

const isWithin = (within: string | undefined, station: string): boolean => within === undefined || within === station;

function notKept(set_id: string, within: string | undefined, { loops }: RecordsPorts): Outcome {
  for (const { id, station } of loops.values()) {
    if (!isWithin(within, id)) continue;
    if (station.set?.path.facts.set_id === set_id) {
      return refused("busy", `The set ${set_id} is not over yet at ${id}.`, "Amend it once it is kept.");
    }
    if (station.desk.finished?.path.facts.set_id === set_id) {
      return refused("busy", `The set ${set_id} is over at ${id} and not kept yet.`, "Amend it once it is kept.");
    }
  }
  return refused("out-of-range", `No set ${set_id} is kept here.`, "`sets` lists those that are.");
}

async function saveTag({ tag, trainee, performed_by }: ArgsOf<"tag-save">, { store, now }: RecordsPorts) {
  const linked_at = instant(now());
  await store.saveTag({ tag, trainee, linked_at, performed_by: performed_by ?? null });
  return done({ tag, trainee });
}

/** The record lives on a disk, so its failing is foreseen: `storage`, with the details in the log. */
async function writing({ log }: RecordsPorts, what: string, work: () => Promise<Outcome>): Promise<Outcome> {
  try {
    return await work();
  } catch (error) {
    log.error({ err: error }, what);
    return refused("storage", `${what}: ${(error as Error).message}.`, "Ask again once the recorder can write.");
  }
}
