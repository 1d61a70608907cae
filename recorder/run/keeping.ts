/** Where a station's effects that must be kept go, and what comes back of them. */
import type { Store } from "../ports.ts";
import type { StationEffect } from "../station/exchange.ts";
import { setMessageOf } from "../station/set-message.ts";
import { setupText } from "../station/setup-notes.ts";
import { keepCalibration } from "./calibration-keeping.ts";
import type { Keeper } from "./keeper.ts";
import { type LateRevisionPorts, reviseLater } from "./late-revision.ts";
import type { ServiceLog } from "./log.ts";
import type { Publisher } from "./publisher.ts";
import type { StandingWrites } from "./standing-writes.ts";
import type { StationLoop } from "./station-loop.ts";

export interface KeepingPorts extends Omit<LateRevisionPorts, "log"> {
  readonly store: Store;
  readonly keeper: Pick<Keeper, "keep" | "settled">;
  readonly writes: StandingWrites;
  readonly publisher: Publisher;
  readonly recorder: string;
  readonly boot: string;
  readonly log: Pick<ServiceLog, "info" | "warn" | "error">;
}

export function carryOut(loop: StationLoop, effect: StationEffect, ports: KeepingPorts): void {
  const { store, keeper, writes, log, publisher, recorder, boot } = ports;
  const station = loop.id;
  switch (effect.do) {
    case "keep": {
      const message = setMessageOf(effect.path, effect.result, { recorder, boot, store: store.store_id });
      keeper.keep({
        message,
        log: effect.log,
        setup: setupText(effect.path.facts.setup_notes),
        topic: publisher.topic(station, "set"),
      });
      break;
    }
    case "forget":
      writes.write(`That set ${effect.set_id} came to nothing`, () => store.forget(effect.set_id));
      break;
    case "revise":
      reviseLater(effect.set_id, effect.changes, publisher.topic(station, "set"), ports);
      break;
    case "save-zero":
      writes.write(`The zero of ${station}`, () => store.saveZero(station, effect.zero));
      break;
    case "save-zero-moved":
      writes.write(`Whether the zero of ${station} needs inspection`, () => store.saveZeroMoved(station, effect.moved));
      break;
    case "save-inspect":
      writes.write(`Whether ${station} needs inspection`, () => store.saveInspect(station, effect.latched));
      break;
    case "save-calibration":
    case "save-check":
    case "use-calibration":
      keepCalibration(loop, effect, ports);
      break;
    case "log":
      log[effect.level]({ station }, effect.text);
      break;
    default:
      break;
  }
}
