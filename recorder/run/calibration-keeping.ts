/** A calibration that was accepted, a check, or a record to go back to: kept first, then told to the station and answered. */
import { refused } from "../../protocol/requests/response.ts";
import type { Log } from "../control/ports.ts";
import type { Store } from "../ports.ts";
import type { StationEffect, StationInput } from "../station/exchange.ts";
import type { StandingWrites } from "./standing-writes.ts";
import type { StationLoop } from "./station-loop.ts";

type Effect = Extract<StationEffect, { do: "save-calibration" | "save-check" | "use-calibration" }>;

export interface CalibrationKeepingPorts {
  readonly store: Pick<Store, "saveCalibration" | "saveCheck" | "useCalibration" | "calibrationDue" | "tryWriting">;
  readonly writes: Pick<StandingWrites, "write">;
  readonly log: Pick<Log, "error">;
}

export function keepCalibration(loop: StationLoop, effect: Effect, ports: CalibrationKeepingPorts): void {
  const { store, writes, log } = ports;
  kept(loop.id, effect, store).then(
    (input) => {
      loop.take(input);
      loop.answer(effect.request_id, effect.outcome);
    },
    (error: Error) => {
      const { thing, why, hint } = FAILED[effect.do];
      log.error({ err: error, station: loop.id }, `${thing} could not be kept`);
      loop.take({ kind: "calibration-not-kept" });
      loop.answer(effect.request_id, refused("storage", `${why}: ${error.message}`, hint));
      // Asking again is for people; when it is of use is for us to find out.
      writes.write(`The calibration of ${loop.id}`, () => store.tryWriting());
    },
  );
}

async function kept(station: string, effect: Effect, store: CalibrationKeepingPorts["store"]): Promise<StationInput> {
  switch (effect.do) {
    case "save-calibration":
      await store.saveCalibration(effect.record);
      return { kind: "calibration", record: effect.record, zero: null };
    case "save-check":
      await store.saveCheck(effect.check);
      return { kind: "check-kept", ...(await dueNow(station, store)) };
    case "use-calibration": {
      const record = await store.useCalibration({ station, ...effect.use });
      if (record === null) throw new Error("the record is not in the store any more");
      return { kind: "calibration", record, zero: null, ...(await dueNow(station, store)) };
    }
  }
}

/** What was kept is kept, whether or not its due can be read. */
async function dueNow(station: string, store: Pick<Store, "calibrationDue">): Promise<{ due?: string | null }> {
  try {
    return { due: await store.calibrationDue(station) };
  } catch {
    return {};
  }
}

const FAILED = {
  "save-calibration": {
    thing: "a calibration",
    why: "The record could not be kept, so the old one stays in force",
    hint: "Accept it again once the alarm is gone.",
  },
  "save-check": {
    thing: "a check",
    why: "The check could not be kept",
    hint: "Accept it again once the alarm is gone.",
  },
  "use-calibration": {
    thing: "which calibration is in force",
    why: "The record could not be put in force, so the former one stays",
    hint: "Ask again once the alarm is gone.",
  },
} as const;
