import { mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { expect, onTestFinished, test } from "vitest";
import { runCli } from "../../../recorder/cli/cli.ts";
import { lockStore } from "../../../recorder/store/lock.ts";
import { openTables, openTablesWithCalibrations } from "../../../recorder/store/tables.ts";
import { inventedSet, toKeep } from "../store/invented.ts";
import { cli, fakeTerminal } from "./fake-terminal.ts";
import { running } from "./running.ts";

/** A box where no recorder runs: its folder and its configuration. */
function box(sets: number): { folder: string; store: string; config: string } {
  const folder = mkdtempSync(join(tmpdir(), "tidemark-box-"));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const store = join(folder, "tidemark.db");
  const config = join(folder, "tidemark.toml");
  writeFileSync(
    config,
    [
      'site = "hall"\nrecorder = "box"',
      `[store]\npath = "${store}"`,
      `[control]\nsocket = "${join(folder, "c.sock")}"\nservice_socket = "${join(folder, "s.sock")}"`,
      '[[station]]\nid = "leg-press"\nexercise = "leg-press"\nserial_port = "/dev/nowhere"\nresistance = "driven"',
      "cell_capacity_N = 5000\nforce_limit_N = 5000\nworking_force_N = 2500\nlatitude_deg = 52",
    ].join("\n"),
  );
  if (sets > 0) {
    const tables = openTables(store);
    for (let number = 1; number <= sets; number++) tables.methods.keep(toKeep(inventedSet(number)));
    tables.methods.close();
  }
  return { folder, store, config };
}

test("without a recorder both are done here, and it is said which", async () => {
  const { folder, config } = box(4);
  const file = join(folder, "a.backup");
  const backedUp = await cli("backup", file, "--config", config);
  expect(backedUp).toMatchObject({ exit: 0, error: "" });
  expect(backedUp.out).toContain(`4 sets backed up in ${file}`);

  const other = box(0);
  const restored = await cli("restore", file, "--yes", "--config", other.config);
  expect(restored).toMatchObject({ exit: 0, error: "" });
  expect(restored.out).toMatch(/No recorder runs, so nothing has changed yet.*delete .*\.restore to give that up/);
  const tables = await openTablesWithCalibrations(other.store);
  expect(tables.methods.sets({}).sets).toHaveLength(4);
  tables.methods.close();
});

test("a recorder that runs and does not answer keeps its store", async () => {
  const { folder, store, config } = box(1);
  const lock = lockStore(store);
  onTestFinished(() => lock.release());
  const { exit, error } = await cli("backup", join(folder, "a.backup"), "--config", config);
  expect(exit).toBe(1);
  expect(error).toContain("does not answer here");
});

test("a refusal is a sentence, and as JSON the recorder's own shape", async () => {
  const { folder, config } = box(1);
  writeFileSync(join(folder, "letter"), "Dear gym");
  const { exit, out, error } = await cli("restore", join(folder, "letter"), "--yes", "--json", "--config", config);
  expect(exit).toBe(1);
  expect(JSON.parse(out)).toMatchObject({ error: { code: "not-suited" } });
  expect(error).toContain("it is not a backup");
  expect(readdirSync(folder).filter((name) => name.includes("restore"))).toEqual([]);
});

test("without a configuration there is no store to name", async () => {
  const { exit, error } = await cli("backup", "/tmp/a.backup", "--config", "/nowhere/tidemark.toml");
  expect(exit).toBe(78);
  expect(error).toContain("/nowhere/tidemark.toml");
});

test("where a recorder answers it is asked, with a whole path", async () => {
  const { gym, service_socket, stop } = await running();
  onTestFinished(stop);
  expect(await cli("backup", "a.backup", "--socket", service_socket)).toMatchObject({ exit: 0 });
  const words = ["restore", "../b.backup", "--yes", "--performed-by", "tech-1", "--socket", service_socket];
  expect(await cli(...words)).toMatchObject({ exit: 0 });
  expect(gym.cared).toEqual([
    { verb: "backup", args: { path: resolve("a.backup") } },
    { verb: "restore", args: { path: resolve("../b.backup"), performed_by: "tech-1" } },
  ]);
});

test("a script must say --yes; somebody at a terminal is asked, and no is no", async () => {
  const { folder, store, config } = box(2);
  const file = join(folder, "a.backup");
  await cli("backup", file, "--config", config);
  expect(await cli("restore", file, "--config", config)).toMatchObject({ exit: 2 });

  const answer = async (typed: string): Promise<{ exit: number; said: string; complained: string }> => {
    const terminal = fakeTerminal(80);
    terminal.typed.end(typed);
    const exit = await runCli(["restore", file, "--config", config], terminal);
    return { exit, said: terminal.said.join("\n"), complained: terminal.complained.join("\n") };
  };
  for (const no of ["n\n", "\n", ""]) {
    expect(await answer(no)).toMatchObject({ exit: 1, complained: "nothing was restored" });
  }
  expect(readdirSync(folder).filter((name) => name.includes("restore"))).toEqual([]);
  const { exit, said } = await answer("yes\n");
  expect(exit).toBe(0);
  expect(said).toContain("Restore it?");
  expect(said.replaceAll(/\s+/g, " ")).toContain(`what is in use now will be kept as ${store}.before-restore-1`);
});
