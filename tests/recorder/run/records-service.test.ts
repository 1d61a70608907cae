/** Records of a running recorder: imported, put in force, and found so after a restart. */
import { afterEach, expect, it } from "vitest";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import type { SensorMessage } from "../../../protocol/messages/station.ts";
import { type CalibrationsResult, calibrationsResultSchema } from "../../../protocol/requests/results.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { inventedCheck } from "../store/invented.ts";
import { type GymService, midSet, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

const KNEE = "knee-extension";
const IMPORTED_ID = "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d33";

async function records(running: GymService): Promise<CalibrationsResult> {
  const answer = await running.ask("calibrations", { station: KNEE });
  if (!answer.ok) throw new Error(answer.error.message);
  return calibrationsResultSchema.parse(answer.result);
}

async function sensor(running: GymService): Promise<Partial<SensorMessage>> {
  const answer = await running.ask("status", { station: KNEE });
  const { stations } = (answer as { result: { stations: { sensor: SensorMessage }[] } }).result;
  return stations[0]?.sensor ?? {};
}

const use = (running: GymService, calibration_id: string) =>
  running.ask("calibration-use", { station: KNEE, calibration_id, performed_by: "tech-1" });

it("a record that came back is put in force, and is so after a restart, with its due", {
  timeout: 60_000,
}, async () => {
  const configuration = placed();
  const running = await startGym(configuration);
  const { in_force, calibrations } = await records(running);
  const [own] = calibrations as unknown as CalibrationRecord[];
  if (own === undefined || in_force === null) throw new Error("nothing is in force");
  const due = "2020-01-01T00:00:00.000Z";
  const calibration = { ...own, calibration_id: IMPORTED_ID, at: "2020-01-01T00:00:00.000Z", due, note: "from before" };

  expect(await running.ask("import", { calibration })).toMatchObject({ ok: true, result: { imported: true } });
  expect(await records(running)).toMatchObject({ in_force, due: own.due });
  expect(await use(running, IMPORTED_ID)).toMatchObject({
    ok: true,
    result: { formerly: in_force, changed: true, zero: "calibrated", warnings: [] },
  });
  expect(await sensor(running)).toMatchObject({ calibration_id: IMPORTED_ID, calibration_due: due, zero_shift_N: 0 });
  expect(await use(running, IMPORTED_ID)).toMatchObject({ ok: true, result: { changed: false } });
  expect(await use(running, "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d44")).toMatchObject({
    error: { code: "out-of-range", hint: expect.stringContaining("calibrations") },
  });
  const now = await records(running);
  expect(now.in_force_since.slice(0, 2)).toMatchObject([
    { calibration_id: IMPORTED_ID, performed_by: "tech-1" },
    { calibration_id: in_force },
  ]);
  await running.service.stop();

  // A check that was kept since moves the day.
  const { methods } = openTables(configuration.store.path);
  const checked = "2031-01-01T00:00:00.000Z";
  methods.saveCheck(inventedCheck(1, { station: KNEE, calibration_id: IMPORTED_ID, due: checked }));
  methods.close();
  const again = await startGym(configuration, false);
  expect(await sensor(again)).toMatchObject({ calibration_id: IMPORTED_ID, calibration_due: checked });
  expect(await records(again)).toMatchObject({ in_force: IMPORTED_ID, due: checked, checks: [{ due: checked }] });
  expect(again.errors).toEqual([]);
});

it("under somebody nothing is put in force", { timeout: 60_000 }, async () => {
  const running = await startGym(placed());
  const { in_force, calibrations } = await records(running);
  const calibration = { ...calibrations[0], calibration_id: IMPORTED_ID };
  await running.ask("import", { calibration });
  await midSet(running);
  expect(await use(running, IMPORTED_ID)).toMatchObject({
    error: { code: "busy", message: expect.stringContaining("wren-21") },
  });
  expect(await records(running)).toMatchObject({ in_force });
});

it("asked for at once, use and begin do not both have it", { timeout: 60_000 }, async () => {
  const running = await startGym(placed());
  const { calibrations } = await records(running);
  await running.ask("import", { calibration: { ...calibrations[0], calibration_id: IMPORTED_ID } });
  // A begin would be granted now.
  while ((await sensor(running)).ready !== true) {
    await running.next(({ topic, station }) => topic === "live" && station === KNEE);
  }
  const begin = () => running.ask("begin", { station: KNEE, trainee: "wren-21", fatigue_threshold: 0.5 });
  const [used, begun] = await Promise.all([use(running, IMPORTED_ID), begin()]);
  expect([used.ok, begun.ok].sort()).toEqual([false, true]);
  const refusal = used.ok ? begun : used;
  expect(refusal).toMatchObject({ error: { code: "busy" } });
});
