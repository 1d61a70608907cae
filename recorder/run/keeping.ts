/** Where a station's effects that must be kept go, and what comes back of them. */
import { refused } from "../../protocol/requests/response.ts";
import type { Log } from "../control/ports.ts";
import type { Latched, Store } from "../ports.ts";
import type { StationEffect } from "../station/exchange.ts";
import { setMessageOf } from "../station/set-message.ts";
import type { Keeper } from "./keeper.ts";
import type { Publisher } from "./publisher.ts";
import type { StationLoop } from "./station-loop.ts";
import type { StorageAlarm } from "./storage-alarm.ts";

export interface KeepingPorts {
  readonly store: Store;
  readonly keeper: Keeper;
  readonly alarm: StorageAlarm;
  readonly publisher: Publisher;
  readonly recorder: string;
  readonly boot: string;
  readonly log: Log & { info(fields: object, message: string): void };
}

export function carryOut(loop: StationLoop, effect: StationEffect, ports: KeepingPorts): void {
  const { store, keeper, alarm, log, publisher, recorder, boot } = ports;
  const station = loop.id;
  /** What cannot be written is tried again with the next change; the log and the alarm say so meanwhile. */
  const written = (what: string, writing: Promise<unknown>): void => {
    writing.then(
      () => alarm.worked(),
      (error: Error) => {
        log.error({ err: error, station }, `${what} could not be kept`);
        alarm.failed(`${what} could not be kept: ${error.message}`);
      },
    );
  };
  switch (effect.do) {
    case "keep": {
      const message = setMessageOf(effect.path, effect.result, { recorder, boot, store: store.store_id });
      keeper.keep({ message, log: effect.log, setup: "", topic: publisher.topic(station, "set") });
      break;
    }
    case "forget":
      written("That a set came to nothing", store.forget(effect.set_id));
      break;
    case "save-zero":
      written("The zero", store.saveZero(station, effect.zero));
      break;
    case "save-inspect":
      written("That the load path needs inspection", latch(loop, effect.latched, store));
      break;
    case "save-calibration":
      store.saveCalibration(effect.record).then(
        () => {
          loop.take({ kind: "calibration", record: effect.record, zero: null });
          loop.answer(effect.request_id, effect.outcome);
        },
        (error: Error) => {
          log.error({ err: error, station }, "a calibration could not be kept");
          const why = `The record could not be kept, so the old one stays in force: ${error.message}`;
          loop.answer(effect.request_id, refused("storage", why));
        },
      );
      break;
    case "log":
      log[effect.level]({ station }, effect.text);
      break;
    default:
      break;
  }
}

const TRY_AGAIN_MS = 5000;

/** Written again until it is, or until somebody has said otherwise: a restart must not forget an overloaded load path. */
function latch(loop: StationLoop, latched: Latched | null, store: Pick<Store, "saveInspect">): Promise<void> {
  const writing = store.saveInspect(loop.id, latched);
  writing.catch(() => {
    const again = (): void => {
      const stands = loop.station.desk.alarms.some(({ code }) => code === "inspect");
      if (stands === (latched !== null)) latch(loop, latched, store).catch(() => {});
    };
    setTimeout(again, TRY_AGAIN_MS).unref();
  });
  return writing;
}
