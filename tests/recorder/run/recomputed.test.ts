/** A stored set and the record it names, read back, give the set's stored figures again, to the last digit. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, expect, it } from "vitest";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { StateMessage } from "../../../protocol/messages/station.ts";
import type { InputLog } from "../../../recorder/ports.ts";
import { importCalibration } from "../../../recorder/run/importing.ts";
import { replaySet } from "../../../recorder/run/replay.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";
import { openTables } from "../../../recorder/store/tables.ts";
import { storePath } from "../store/store-path.ts";
import { type GymService, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

/** The set once more, from its counts and this record: the one the log was armed with is not looked at. */
function recomputed(message: SetMessage, log: InputLog, record: CalibrationRecord): SetMessage {
  return replaySet(message, { ...log, arm: { ...(log.arm as object), calibration: record } }, {});
}

/** What the readings were worth, and nothing that replaying takes over from the stored set. */
function figures(message: SetMessage) {
  const { at, started_at, zero_shift_N, set_seq, revision, recorder, boot, store, pain, exertion, note, ...rest } =
    message;
  return rest;
}

/** Clusters with pauses, at the station that knows no muscle action; resolves when the set is over. */
async function clusters(running: GymService): Promise<void> {
  const station = "pull-down";
  const style = "rest-pause" as const;
  const means = { style, effort_s: 2, efforts_per_cluster: 2, gap_s: 2, rest_s: 12 };
  const who = trainee("finch-03", 800, { F_per_s: 0.02, R_per_s: 0.002, rest_multiplier: 15 }, means);
  running.gym.station(station).sit(who);
  const over = running.next(
    ({ topic, station: at, message }) =>
      topic === "state" && at === station && (message as StateMessage).phase === "finished",
  );
  const begun = await running.ask("begin", { station, trainee: "finch-03", style, fatigue_threshold: 0.2 });
  expect(begun).toMatchObject({ ok: true });
  await over;
}

it("sets of four styles, from the store itself, from a record exported and imported elsewhere, and from its file", {
  timeout: 120_000,
}, async () => {
  const configuration = placed();
  const running = await startGym(configuration);
  await running.day();
  await clusters(running);
  await running.service.settled();
  await running.service.stop();

  const { path } = configuration.store;
  const { methods } = openTables(path);
  const elsewhere = openTables(storePath()).methods;
  const { sets } = methods.sets({});
  expect(new Set(sets.map(({ style }) => style))).toEqual(
    new Set(["hold", "continuous", "eccentric-only", "rest-pause"]),
  );
  const files = readdirSync(`${path}-calibrations`);
  for (const { set_id } of sets) {
    const kept = methods.set(set_id);
    if (kept === null) throw new Error("a listed set is not kept");
    const { message, log } = kept;
    expect(message.best_force_N).toBeGreaterThan(100);
    const id = message.calibration_id ?? "";
    const record = methods.calibration(id);
    if (record === null) throw new Error("a set names a record that is not kept");

    // As a line of an exported file, and kept again by another recorder.
    const exported = JSON.parse(JSON.stringify(record)) as Record<string, unknown>;
    const stations = configuration.station.map((station) => station.id);
    const taken = await importCalibration(exported, {
      stations,
      store: { importCalibration: async (one) => elsewhere.importCalibration(one) },
    });
    expect(taken).toMatchObject({ ok: true });
    const imported = elsewhere.calibration(id);
    const file = files.find((name) => name.includes(id)) ?? "none";
    const beside = JSON.parse(readFileSync(join(`${path}-calibrations`, file), "utf8")) as CalibrationRecord;
    for (const one of [record, imported, beside]) {
      if (one === null) throw new Error("an imported record is not kept");
      expect(recomputed(message, log, one)).toEqual(message);
    }

    // A record that is another one gives other figures: by a ten-thousandth of the scale, and by its uncertainty alone.
    const steeper = recomputed(message, log, { ...record, counts_per_N: record.counts_per_N * 1.0001 });
    expect(figures(steeper)).not.toEqual(figures(message));
    expect(steeper.best_force_N).toBeCloseTo((message.best_force_N as number) / 1.0001, 1);
    const doubted = recomputed(message, log, {
      ...record,
      budget: record.budget.map((line) => ({ ...line, standard_uncertainty_N: 3 * line.standard_uncertainty_N })),
      expanded_uncertainty_N: 3 * record.expanded_uncertainty_N,
    });
    expect(doubted.expanded_uncertainty_N).not.toBe(message.expanded_uncertainty_N);
    expect({ ...figures(doubted), expanded_uncertainty_N: message.expanded_uncertainty_N }).toEqual(figures(message));
  }
  elsewhere.close();
  methods.close();
});
