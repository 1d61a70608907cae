/** The record as a whole: copied, put back, moved to another box, and one trainee's part of it removed. */
import type { Care } from "../control/ports.ts";
import type { Store } from "../ports.ts";
import type { Now } from "../station/exchange.ts";
import { backUp } from "./backing-up.ts";
import { erase } from "./erasing.ts";
import { exportTo } from "./exporting.ts";
import { importFrom } from "./importing-file.ts";
import type { ServiceLog } from "./log.ts";
import type { Publisher } from "./publisher.ts";
import { restore } from "./restoring.ts";
import type { StationLoop } from "./station-loop.ts";
import type { InTurn } from "./turns.ts";

export interface CarePorts {
  /** The store's file. */
  readonly path: string;
  readonly store: Store;
  readonly loops: ReadonlyMap<string, StationLoop>;
  readonly publisher: Publisher;
  readonly inTurn: InTurn;
  /** Ends the process between sets, with one sentence why. */
  readonly broke: (why: string) => void;
  readonly now: () => Now;
  readonly log: ServiceLog;
}

export function careOf(ports: CarePorts): Care {
  return {
    backup: (args) => backUp(args, ports),
    restore: (args) => restore(args, ports),
    erase: (args) => erase(args, ports),
    exportTo: (args) => exportTo(args, ports),
    importFrom: (path, performed_by) => importFrom(path, performed_by, ports),
  };
}
