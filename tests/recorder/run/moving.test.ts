/** A record moved from one running recorder to another, through its processes, while both go on. */
import { appendFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { afterEach, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { ExportResult, ImportFileResult } from "../../../protocol/requests/care-results.ts";
import type { Outcome } from "../../../protocol/requests/response.ts";
import type { InputLog } from "../../../recorder/ports.ts";
import { replaySet } from "../../../recorder/run/replay.ts";
import { type GymService, startGym, stopAll } from "./gym-service.ts";
import { placed } from "./place.ts";

afterEach(stopAll);

const resultOf = <T>(outcome: Outcome): T => {
  if (!outcome.ok) throw new Error(outcome.error.message);
  return outcome.result as T;
};
const setsOf = async (running: GymService): Promise<SetMessage[]> =>
  resultOf<{ sets: SetMessage[] }>(await running.ask("sets")).sets;
interface OneSet {
  readonly set: SetMessage;
  readonly curve: object;
  readonly log: InputLog;
}
const oneSet = async (running: GymService, set_id: string): Promise<OneSet> =>
  resultOf<OneSet>(await running.ask("set", { set_id, curve: true }));
const numberless = (set: SetMessage): SetMessage => ({ ...set, store: "", set_seq: 0 });

it("a day's sets, tags and records come to another box as they were, and replay there to the same figures", {
  timeout: 120_000,
}, async () => {
  const there = placed();
  const from = await startGym(there);
  await from.day();
  await from.service.settled();
  await from.ask("tag-save", { tag: "band-0142", trainee: "otter-14" });
  const sets = await setsOf(from);
  expect(sets.length).toBeGreaterThan(1);
  const [first] = sets as [SetMessage];
  await from.ask("amend", { set_id: first.set_id, pain: 1, performed_by: "coach-1" });
  const path = join(dirname(there.store.path), "moved.jsonl");
  const exported = resultOf<ExportResult>(await from.ask("export", { path }));
  expect(exported).toMatchObject({ path, sets: sets.length, tags: 1, notes: [] });
  expect(exported.bytes).toBe(readFileSync(path).length);

  // Nothing is written over.
  expect(await from.ask("export", { path })).toMatchObject({
    error: { code: "not-permitted", message: expect.stringContaining("is there already"), hint: "Name another file." },
  });

  const here = placed();
  const into = await startGym(here, false);
  // A faulty copy first: nothing of it is written.
  const faulty = join(dirname(here.store.path), "faulty.jsonl");
  const text = readFileSync(path, "utf8");
  writeFileSync(faulty, text.replace('"revision":1,', '"revision":9,'));
  expect(await into.ask("import", { path: faulty })).toMatchObject({ error: { code: "bad-request" } });
  writeFileSync(faulty, text.slice(0, -100));
  const cut = "the file is cut off: its last line is not the `end` line of an export";
  expect(await into.ask("import", { path: faulty })).toMatchObject({
    error: {
      code: "bad-request",
      message: `Line ${text.split("\n").length - 1} of ${faulty}: ${cut}. Nothing was imported.`,
    },
  });
  expect(await setsOf(into)).toEqual([]);

  const asked = [into.ask("import", { path }), into.ask("import", { path })];
  const [imported, busy] = await Promise.all(asked);
  expect(busy).toMatchObject({
    error: { code: "busy", message: expect.stringMatching(/^An import is under way since/) },
  });
  const result = resultOf<ImportFileResult>(imported as Outcome);
  const { calibrations, checks, plans } = exported;
  expect(result.imported).toEqual({ sets: sets.length, plans, tags: 1, calibrations, checks });
  expect(result.notes).toContainEqual(
    expect.stringMatching(/^No calibration is in force at knee-extension; .*check it/),
  );
  expect(result.notes).toContainEqual(expect.stringMatching(/not announced/));

  const moved = await setsOf(into);
  expect(moved.map(({ set_id }) => set_id)).toEqual(sets.map(({ set_id }) => set_id));
  for (const { set_id } of sets) {
    const [one, other] = [await oneSet(from, set_id), await oneSet(into, set_id)];
    expect(numberless(other.set)).toEqual(numberless(one.set));
    expect(Object.keys(other.set)).toEqual(Object.keys(one.set));
    expect(other.set.store).not.toBe(one.set.store);
    expect(other.curve).toEqual(one.curve);
    expect(other.log).toEqual(one.log);
    expect(numberless(replaySet(other.set, other.log, {}))).toEqual(numberless(replaySet(one.set, one.log, {})));
    expect(replaySet(other.set, other.log, {}).best_force_N).toBe(other.set.best_force_N);
  }
  for (const { id } of here.station) {
    const one = resultOf<{ calibrations: object[] }>(await from.ask("calibrations", { station: id }));
    const other = resultOf<{ calibrations: object[]; in_force: null }>(await into.ask("calibrations", { station: id }));
    expect(other.calibrations).toEqual(one.calibrations);
    expect(other.in_force).toBeNull();
  }
  expect(await into.ask("tags")).toEqual(await from.ask("tags"));
  // Its readers heard of them from where they come from.
  expect(into.heard.filter(({ topic }) => topic === "set")).toEqual([]);

  const again = resultOf<ImportFileResult>(await into.ask("import", { path }));
  expect(again.imported).toEqual({ sets: 0, plans: 0, tags: 0, calibrations: 0, checks: 0 });
  expect(again.known).toEqual(result.imported);
  expect([from.errors, into.errors]).toEqual([[], []]);
});

it("what cannot be read or written is said in words of what would do", { timeout: 60_000 }, async () => {
  const configuration = placed();
  const running = await startGym(configuration);
  const folder = dirname(configuration.store.path);
  const at = (name: string): string => join(folder, name);
  const said = async (verb: "export" | "import", args: object): Promise<string> => {
    const outcome = await running.ask(verb, args);
    if (outcome.ok) return "done";
    const { code, message, hint } = outcome.error;
    return `${code}: ${message.replaceAll(folder, "HERE")} ${hint?.replaceAll(folder, "HERE") ?? ""}`.trim();
  };
  expect(await said("export", { path: at("none/all.jsonl") })).toBe(
    "out-of-range: There is no folder HERE/none on the recorder's machine. Make it, or name another.",
  );
  expect(await said("export", { path: at("t.jsonl"), trainee: "t-99" })).toBe(
    "out-of-range: Nothing is kept here of t-99: look whether the code is right.",
  );
  expect(await said("export", { path: "relative.jsonl" })).toMatch(/^bad-request: .*whole path/);
  expect(await said("import", { path: at("none.jsonl") })).toBe(
    "out-of-range: There is no file HERE/none.jsonl on the recorder's machine.",
  );
  mkdirSync(at("folder"));
  expect(await said("import", { path: at("folder") })).toBe(
    "bad-request: HERE/folder is not a file. Name a file that `export` wrote.",
  );
  const { calibrations } = resultOf<{ calibrations: object[] }>(
    await running.ask("calibrations", { station: "knee-extension" }),
  );
  for (const [name, spaces] of [
    ["document.json", 2],
    ["line.json", 0],
  ] as const) {
    writeFileSync(at(name), `${JSON.stringify(calibrations[0], null, spaces)}\n`);
    expect(await said("import", { path: at(name) })).toBe(
      `bad-request: HERE/${name} holds calibration records by themselves. Nothing was imported. ` +
        "`calibrations STATION --import FILE` takes those.",
    );
  }
  expect(await said("export", { path: at("all.jsonl") })).toBe("done");
  appendFileSync(at("all.jsonl"), "\n");
  expect(await said("import", { path: at("all.jsonl") })).toMatch(
    /goes on after its `end` line. Nothing was imported./,
  );
});
