/** The record as a whole: copied, put back, moved to another box, and one trainee's part of it removed. */
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import type { Care } from "../control/ports.ts";
import type { SetToKeep, Store } from "../ports.ts";
import type { Now } from "../station/exchange.ts";
import { isPending, pendingPath } from "../store/restore-pending.ts";
import { backUp } from "./backing-up.ts";
import { erase } from "./erasing.ts";
import type { PiecesPorts } from "./erasing-pieces.ts";
import { exportTo } from "./exporting.ts";
import { importFrom } from "./importing-file.ts";
import type { ServiceLog } from "./log.ts";
import { type OneAtATime, oneAtATime } from "./one-at-a-time.ts";
import type { Publisher } from "./publisher.ts";
import { restore } from "./restoring.ts";
import type { StationLoop } from "./station-loop.ts";
import type { InTurn } from "./turns.ts";

export interface CarePorts {
  /** The store's file. */
  readonly path: string;
  /** The configuration's. */
  readonly recorder: string;
  readonly site: string;
  readonly store: Store;
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly publisher: Publisher;
  readonly inTurn: InTurn;
  /** Who is being erased, to be added to. */
  readonly erasing: Set<string>;
  /** Finished sets that are not on the disk yet. */
  readonly waiting: () => readonly SetToKeep[];
  readonly pieces: PiecesPorts;
  /** Ends the process between sets, with one sentence why. */
  readonly broke: (why: string) => void;
  /** The recorder stops: work that takes long is broken off. */
  readonly stopping: AbortSignal;
  readonly now: () => Now;
  readonly log: ServiceLog;
}

/** `alone`: nothing of the above meanwhile. */
export interface CareAlone extends Care, OneAtATime {}

export function careOf(ports: CarePorts): CareAlone {
  const { alone, settled } = oneAtATime(ports.now);
  const lasting = async (work: () => Promise<Outcome>): Promise<Outcome> =>
    isPending(ports.path) ? wouldBeLost(ports.path) : work();
  return {
    alone,
    settled,
    backup: (args) => alone("A backup", () => backUp(args, ports)),
    restore: (args) => alone("A restore", () => restore(args, ports)),
    erase: (args) => alone("An erasure", () => lasting(() => erase(args, ports))),
    exportTo: (args) => alone("An export", () => exportTo(args, ports)),
    importFrom: (path, performed_by) => alone("An import", () => lasting(() => importFrom(path, performed_by, ports))),
  };
}

/** Somebody whose erasure was promised must not be back after the next start. */
const wouldBeLost = (path: string): Outcome =>
  refused(
    "busy",
    "A restored record waits to take the place of the one in use, and this would be done to the one that goes.",
    `Ask again once the recorder has begun with it; or delete ${pendingPath(path)} to give the restore up.`,
  );
