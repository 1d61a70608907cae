import { describe, expect, it } from "vitest";
import { importCalibration } from "../../../recorder/run/importing.ts";
import { openTables, type StoreMethods } from "../../../recorder/store/tables.ts";
import { inventedRecord } from "../store/invented.ts";
import { storePath } from "../store/store-path.ts";

const STATIONS = ["leg-press", "row"];
const record = inventedRecord(1);

function importing(store: Pick<StoreMethods, "importCalibration">, calibration: object) {
  return importCalibration(JSON.parse(JSON.stringify(calibration)), {
    stations: STATIONS,
    store: { importCalibration: async (kept) => store.importCalibration(kept) },
  });
}

describe("a record of elsewhere", () => {
  it("is kept and not in force, the second time known, and never changed", async () => {
    const store = openTables(storePath()).methods;
    const { calibration_id, station } = record;
    const imported = { ok: true, result: { calibration_id, station, imported: true } };
    expect(await importing(store, record)).toEqual(imported);
    expect(await importing(store, record)).toEqual({ ok: true, result: { ...imported.result, imported: false } });
    expect(await importing(store, { ...record, note: "edited" })).toMatchObject({
      ok: false,
      error: { code: "not-permitted", message: expect.stringContaining("a record is never changed") },
    });
    expect(store.calibrations("leg-press")).toEqual([record]);
    expect(store.calibrationInForce("leg-press")).toBeNull();
    store.close();
  });

  it.each<[string, object, string, RegExp]>([
    [
      "of a station that is not here",
      { station: "leg-pres" },
      "unknown-station",
      /of the station leg-pres, which is not/,
    ],
    ["without points", { points: [] }, "bad-request", /points must have at least 2/],
    ["with a field nobody knows", { colour: "red" }, "bad-request", /colour is not a known key/],
    ["without a scale", { counts_per_N: 0 }, "bad-request", /counts_per_N must not be 0/],
    [
      "of a cell that is none",
      { cell_capacity_N: -5, working_force_N: 0 },
      "bad-request",
      /working_force_N.*; cell_cap/,
    ],
    ["of another kind", { record_version: 2 }, "bad-request", /record_version must be 1/],
    ["surer than sure", { expanded_uncertainty_N: -1 }, "bad-request", /expanded_uncertainty_N must be at least 0/],
  ])("%s is refused, and it is said why", async (_what, changes, code, message) => {
    const store = { importCalibration: () => Promise.reject(new Error("nobody asks")) as never };
    expect(await importing(store, { ...record, ...changes })).toMatchObject({
      ok: false,
      error: { code, message: expect.stringMatching(message) },
    });
  });

  it("has every fault said at once", async () => {
    const store = { importCalibration: () => Promise.reject(new Error("nobody asks")) as never };
    const { station: _station, ...rest } = record;
    const outcome = await importing(store, { ...rest, counts_per_N: "many", gain: 1.5, due: "soon" });
    expect(outcome).toMatchObject({
      error: { message: expect.stringMatching(/station is missing.*counts_per_N must be.*gain must be.*due must be/) },
    });
  });
});
