import { expect, it } from "vitest";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { done, type Outcome } from "../../../protocol/requests/response.ts";
import { type CalibrationKeepingPorts, keepCalibration } from "../../../recorder/run/calibration-keeping.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import type { StationEffect } from "../../../recorder/station/exchange.ts";
import { CALIBRATION_ID, readyBench, record } from "../station/bench.ts";
import { inventedCheck } from "../store/invented.ts";

const FORMER_ID = "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d22";
const DUE = "2027-11-24T10:00:00.000Z";
const former = record({ calibration_id: FORMER_ID });
const USE = { calibration_id: FORMER_ID, at: "2026-11-24T10:00:01.000Z", performed_by: "tech-1" } as const;

/** A station that is at rest, and what it keeps carried out on a store that answers as told. */
function bench(store: Partial<CalibrationKeepingPorts["store"]>) {
  const { station, now } = readyBench();
  const trials: string[] = [];
  const ports: CalibrationKeepingPorts = {
    store: {
      saveCalibration: async () => {},
      saveCheck: async () => {},
      useCalibration: async () => former,
      calibrationDue: async () => DUE,
      tryWriting: async () => void trials.push("tried"),
      ...store,
    },
    writes: { write: (what) => void trials.push(what) },
    log: { error: () => {} },
  };
  const loop: StationLoop = new StationLoop(station, {
    now: () => now,
    signal: () => {},
    keep: (effect) => keepCalibration(loop, effect as never, ports),
  });
  const use = (): Promise<Outcome> =>
    loop.ask(
      {
        request: { verb: "calibration-use", args: { station: loop.id, calibration_id: FORMER_ID } },
        by: "tech-1",
        door: "socket",
      },
      (ask) => ({ kind: "use", ask, record: former }),
    );
  /** As if the station had asked for it; answers to its own request. */
  const keep = (
    effect: Omit<Extract<StationEffect, { do: "save-check" }>, "request_id" | "outcome">,
  ): Promise<Outcome> =>
    loop.ask({ request: { verb: "inspected", args: { station: loop.id } }, by: null, door: "socket" }, (ask) => {
      keepCalibration(loop, { ...effect, request_id: ask.request_id, outcome: done({ kept: true }) }, ports);
      return { kind: "tick" };
    });
  return { loop, use, keep, trials };
}

it("a record that was put in force is told to the station, with its due, before it is answered", async () => {
  const used: unknown[] = [];
  const { loop, use } = bench({
    async useCalibration(asked) {
      used.push(asked);
      return former;
    },
  });
  expect(await use()).toMatchObject({ ok: true, result: { changed: true } });
  expect(used).toEqual([{ station: "leg-press", ...USE, at: expect.any(String) }]);
  expect(loop.station.sensor.scale).toMatchObject({ due: DUE, record: { calibration_id: FORMER_ID } });
  expect(loop.station.desk.putting_in_force).toBe(false);
});

it("in force is in force, whether or not its due can be read: then its own holds", async () => {
  const { loop, use } = bench({ calibrationDue: () => Promise.reject(new Error("the disk is gone")) });
  expect(await use()).toMatchObject({ ok: true });
  expect(loop.station.sensor.scale).toMatchObject({ due: null, record: { calibration_id: FORMER_ID } });
});

it.each<[string, () => Promise<CalibrationRecord | null>]>([
  ["the disk is full", () => Promise.reject(new Error("the disk is full"))],
  ["it is gone meanwhile", async () => null],
])("where %s the former one stays, and the station goes on", async (_why, useCalibration) => {
  const { loop, use, trials } = bench({ useCalibration });
  expect(await use()).toMatchObject({
    ok: false,
    error: {
      code: "storage",
      message: expect.stringMatching(/^The record could not be put in force, so the former one stays: the /),
    },
  });
  expect(loop.station.sensor.scale?.record.calibration_id).toBe(CALIBRATION_ID);
  expect(loop.station.desk.putting_in_force).toBe(false);
  expect(trials).toEqual(["The calibration of leg-press"]);
});

it("a check is kept, and then the station knows when the calibration is due", async () => {
  const checks: unknown[] = [];
  const { loop, keep } = bench({ saveCheck: async (check) => void checks.push(check) });
  const check = inventedCheck(1);
  expect(await keep({ do: "save-check", check })).toEqual(done({ kept: true }));
  expect(checks).toEqual([check]);
  expect(loop.station.sensor.scale?.due).toBe(DUE);
});

it("a check that cannot be kept is answered so, and moves nothing", async () => {
  const { loop, keep } = bench({ saveCheck: () => Promise.reject(new Error("the disk is full")) });
  expect(await keep({ do: "save-check", check: inventedCheck(1) })).toMatchObject({
    ok: false,
    error: { code: "storage", message: "The check could not be kept: the disk is full" },
  });
  expect(loop.station.sensor.scale?.due).toBeNull();
});
