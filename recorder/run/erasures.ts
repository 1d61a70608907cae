/** What erasing needs of the recorder, joined; erasures that a former run left unfinished; and sets that grow too old. */

import { envelopeSchema } from "../../protocol/messages/parts.ts";
import { done, refused } from "../../protocol/requests/response.ts";
import type { Erasure } from "../care-ports.ts";
import type { Store } from "../ports.ts";
import { instant, type Now } from "../station/exchange.ts";
import type { CareAlone, CarePorts } from "./care.ts";
import { eraseWhole } from "./erasing.ts";
import { eraseSets, type Gone, type PiecesPorts } from "./erasing-pieces.ts";
import type { Publisher } from "./publisher.ts";
import { forgetAsideOf } from "./put-aside.ts";
import { startRetention } from "./retention.ts";
import type { StationLoop } from "./station-loop.ts";

export interface ErasuresPorts {
  readonly store: Store;
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly publisher: Publisher;
  readonly stopping: AbortSignal;
  readonly now: () => Now;
}

/** The parts of `CarePorts` that erasing alone needs. */
export function erasuresOf({
  store,
  loops,
  publisher,
  stopping,
  now,
}: ErasuresPorts): Pick<CarePorts, "erasing" | "pieces"> {
  const pieces: PiecesPorts = {
    store,
    stations: [...loops.keys()],
    notice: () => ({
      envelope: envelopeSchema.parse(publisher.message({}, now())),
      topic: publisher.topic("+", "set"),
    }),
    forget(erased) {
      for (const loop of loops.values()) loop.take({ kind: "erased", ...erased });
    },
    gone: (sets) => publisher.erased(sets),
    latest: (station, set) => publisher.showLatest(station, set),
    stopping,
    date: () => instant(now()),
  };
  return { erasing: new Set(), pieces };
}

/**
 * At the start, before anything is read or announced: what was left of erasures goes as far as sets, tags, plans and files
 * beside the store are concerned. Returns those whose rest is to be done once the stations run. A disk that does not take it
 * keeps no station from starting, but nobody begins for them.
 */
export async function takeUpErasures(ports: CarePorts): Promise<readonly Erasure[]> {
  const { store, path, erasing, pieces, log } = ports;
  const { open, any } = await store.erasures();
  try {
    for (const erasure of open) {
      const { trainee } = erasure;
      if (trainee !== null) {
        erasing.add(trainee);
        await forgetAsideOf(path, trainee);
      }
      await store.beginErasure(erasure);
      await eraseSets(erasure, pieces);
    }
    // The last write of an erasure that was just done may still lie in the log, with what it wrote over.
    if (any) await store.sweep();
  } catch (error) {
    log.error({ err: error }, NOT_DONE);
  }
  return open;
}

const NOT_DONE = "An erasure that was broken off could not be gone on with; it is tried again every ten minutes.";

export interface AfterStart {
  readonly left: readonly Erasure[];
  readonly keep_sets_days: number | undefined;
}

/** Beside the stations. Returns how to stop. */
export function goOnErasing(care: CareAlone, ports: CarePorts, { left, keep_sets_days }: AfterStart): () => void {
  if (left.length > 0) void finish(care, ports);
  const finishing = setInterval(() => void finish(care, ports), TRY_EVERY_MS);
  const stop = (): void => clearInterval(finishing);
  if (keep_sets_days === undefined) return stop;
  const { store, now, log } = ports;
  const erase = (begin: () => Promise<Erasure>): Promise<Gone | null> =>
    alone(care, async () => eraseWhole(await begin(), ports));
  const stopRetention = startRetention({ keep_sets_days, store, erase, now, log });
  return () => {
    stop();
    stopRetention();
  };
}

/** A disk that was full, or a reader that held pages, may be past by then. */
const TRY_EVERY_MS = 600_000;

/** What is open is asked for when nothing else is under way: what whoever asked first has done is not done again. */
async function finish(care: CareAlone, ports: CarePorts): Promise<void> {
  try {
    await alone(care, async () => {
      let gone: Gone | null = null;
      for (const erasure of (await ports.store.erasures()).open) {
        gone = await eraseWhole(erasure, ports);
        if (gone !== null) ports.log.info({}, "An erasure that had been broken off is done.");
      }
      return gone;
    });
  } catch (error) {
    ports.log.error({ err: error }, NOT_DONE);
  }
}

/** null: it stops, or something else is under way. */
async function alone(care: CareAlone, work: () => Promise<Gone | null>): Promise<Gone | null> {
  let gone: Gone | null = null;
  await care.alone("An erasure", async () => {
    gone = await work();
    return gone === null ? refused("busy", "The recorder stops.") : done({});
  });
  return gone;
}
