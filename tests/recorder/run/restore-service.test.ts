/** The whole recorder, backed up while it runs and restored, and what the next start makes of it. */
import { existsSync, mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { afterEach, expect, onTestFinished, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { backupResultSchema, restoreResultSchema } from "../../../protocol/requests/care-results.ts";
import type { Outcome } from "../../../protocol/requests/response.ts";
import { ask } from "../../../recorder/cli/client.ts";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import { readCalibrationFiles } from "../../../recorder/store/read-calibration-files.ts";
import { type GymService, midSet, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

function elsewhere(): string {
  const folder = mkdtempSync(join(tmpdir(), "tidemark-stick-"));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return join(folder, "hall.backup");
}

function result(outcome: Outcome): Record<string, unknown> {
  if (!outcome.ok) throw new Error(outcome.error.message);
  return outcome.result as Record<string, unknown>;
}
const setsOf = async (gym: GymService): Promise<SetMessage[]> => result(await gym.ask("sets"))["sets"] as SetMessage[];

const idsOf = (sets: readonly SetMessage[]): string[] => sets.map(({ set_id }) => set_id).sort();

async function aDay(configuration: Configuration, prepare = true): Promise<GymService> {
  const gym = await startGym(configuration, prepare);
  await gym.day();
  await gym.service.settled();
  return gym;
}

test("backed up, trained on, restored: the next start has the backup's sets and goes on from there", async () => {
  const configuration = placed();
  const path = elsewhere();
  const gym = await aDay(configuration);
  const then = await setsOf(gym);
  const backup = backupResultSchema.parse(result(await gym.ask("backup", { path })));
  expect(backup).toMatchObject({ path, sets: then.length });
  const last_set_seq = backup.last_set_seq ?? 0;
  expect(backup.notes.join(" ")).toContain("configuration");

  const station = "leg-press";
  await gym.ask("amend", { set_id: then[0]!.set_id, note: "after the backup" });
  const restored = restoreResultSchema.parse(result(await gym.ask("restore", { path })));
  expect(restored).toMatchObject({ former_store: backup.store, sets: then.length, last_set_seq });
  expect(restored.kept_aside).toBe(`${configuration.store.path}.before-restore-1`);
  expect(await gym.service.broken).toContain("restored record");
  await gym.service.stop();

  const again = await startGym(configuration, false);
  expect(again.errors).toEqual([]);
  const stored = await setsOf(again);
  expect(idsOf(stored)).toEqual(idsOf(then));
  // A message keeps its bytes, and with them the id it was published under.
  expect(new Set(stored.map(({ store, note }) => `${store} ${note}`))).toEqual(new Set([`${backup.store} null`]));
  expect(result(await again.ask("status"))["store"]).toBe(restored.store);
  // What is in force stays; zeros, new sets and revisions are as ever.
  const calibrations = result(await again.ask("calibrations", { station }));
  expect(calibrations["in_force"]).not.toBeNull();
  const in_force = readCalibrationFiles(configuration.store.path).in_force.find((use) => use.station === station);
  expect(in_force?.calibration_id).toBe(calibrations["in_force"]);
  const revised = result(await again.ask("amend", { set_id: then[0]!.set_id, note: "after the restore" }));
  expect((revised["set"] as SetMessage).set_seq).toBe(last_set_seq + 1);
  await again.day();
  await again.service.settled();
  const now = await setsOf(again);
  expect(now.length).toBe(2 * then.length);
  const fresh = now.filter(({ set_id }) => !then.some((old) => old.set_id === set_id));
  expect(new Set(fresh.map(({ store }) => store))).toEqual(new Set([restored.store]));
  expect(Math.min(...fresh.map(({ set_seq }) => set_seq))).toBeGreaterThan(last_set_seq);
});

test("refused while somebody is at a station, and one at a time", async () => {
  const configuration = placed();
  const path = elsewhere();
  const gym = await startGym(configuration);
  const both = await Promise.all([gym.ask("backup", { path }), gym.ask("backup", { path: `${path}-2` })]);
  expect(both[0]!.ok).toBe(true);
  expect(both[1]).toMatchObject({ ok: false, error: { code: "busy" } });
  await midSet(gym);
  expect(await gym.ask("restore", { path })).toMatchObject({ ok: false, error: { code: "busy" } });
  expect(readdirSync(dirname(configuration.store.path)).filter((name) => name.includes("restore"))).toEqual([]);
});

test("a restore that cannot be leaves the recorder as it was", async () => {
  const configuration = placed();
  const gym = await aDay(configuration);
  const before = await setsOf(gym);
  const refused = await gym.ask("restore", { path: "/nowhere/at/all.backup" });
  expect(refused).toMatchObject({ ok: false, error: { code: "out-of-range" } });
  expect(idsOf(await setsOf(gym))).toEqual(idsOf(before));
});

test("an orderly end gives a backup up, and nothing of it is left", async () => {
  const configuration = placed();
  const path = elsewhere();
  const gym = await aDay(configuration);
  const asked = gym.ask("backup", { path });
  const began_ms = performance.now();
  await gym.service.stop();
  expect(performance.now() - began_ms).toBeLessThan(5000);
  const outcome = await asked;
  // It may have been quicker than the end.
  if (!outcome.ok) expect(outcome.error.message).toBe("The recorder stops, so this was given up.");
  expect(outcome.ok).toBe(existsSync(path));
  expect(readdirSync(dirname(path)).filter((name) => name.includes("partial"))).toEqual([]);
});

test("nothing is erased or imported while a restored record waits: it would be undone by the next start", async () => {
  const configuration = placed();
  const gym = await startGym(configuration);
  const path = elsewhere();
  expect(await gym.ask("backup", { path })).toMatchObject({ ok: true });
  const asked = gym.ask("restore", { path });
  // Somebody begins while the copy is made: the recorder ends after them.
  await midSet(gym);
  expect(await asked).toMatchObject({ ok: true });
  for (const outcome of [await gym.ask("erase", { trainee: "T-99" }), await gym.ask("import", { path })]) {
    expect(outcome).toMatchObject({
      ok: false,
      error: { code: "busy", hint: expect.stringContaining("give the restore up") },
    });
  }
  rmSync(`${configuration.store.path}.restore`);
  expect(await gym.ask("erase", { trainee: "T-99" })).toMatchObject({ ok: true });
});

test.each(["backup", "export", "import"] as const)(
  "whoever waits for %s is told when the recorder stops",
  async (verb) => {
    const configuration = placed();
    const gym = await startGym(configuration);
    const path = elsewhere();
    if (verb === "import") expect(await gym.ask("export", { path })).toMatchObject({ ok: true });
    const { service_socket } = configuration.control;
    const asked = ask({ path: service_socket, verb, args: { path } });
    // Connections are served in their order, so the first is under way once the second is answered.
    expect(await ask({ path: service_socket, verb: "status", args: {} })).toMatchObject({ ok: true });
    expect(await gym.ask("erase", { trainee: "T-99" })).toMatchObject({ ok: false, error: { code: "busy" } });
    await gym.service.stop();
    const message = expect.stringContaining("The recorder stops");
    expect(await asked).toMatchObject({ ok: false, failure: { exit: 1, message } });
    expect(readdirSync(dirname(path)).filter((name) => name.includes("partial"))).toEqual([]);
  },
);
