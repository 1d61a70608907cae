/** The command line as a process: its exit code, its streams, its signals. */
import { type ChildProcess, spawn } from "node:child_process";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { nodeVersionFault } from "../../../recorder/cli/node-version.ts";
import { SET_ID } from "../control/fake-gym.ts";
import { type Running, running } from "./running.ts";

const MAIN = fileURLToPath(new URL("../../../recorder/main.ts", import.meta.url));

let here: Running;
const children: ChildProcess[] = [];
beforeAll(async () => {
  here = await running();
});
afterAll(async () => {
  for (const child of children) if (child.exitCode === null) child.kill("SIGKILL");
  await here.stop();
});

interface Ended {
  readonly exit: number | null;
  readonly out: string;
  readonly error: string;
}

/** tsx as a loader, so that the process we hold is the command itself and not a wrapper around it. */
function start(
  words: readonly string[],
  preload: readonly string[] = [],
): { readonly child: ChildProcess; readonly ended: Promise<Ended> } {
  const child = spawn(process.execPath, [...preload, "--import", "tsx", MAIN, ...words], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  children.push(child);
  let out = "";
  let error = "";
  child.stdout.setEncoding("utf8").on("data", (text) => {
    out += text;
  });
  child.stderr.setEncoding("utf8").on("data", (text) => {
    error += text;
  });
  const ended = new Promise<Ended>((resolve) => child.once("close", (exit) => resolve({ exit, out, error })));
  return { child, ended };
}

describe("exit codes", () => {
  test.concurrent.each<[string, string[], number, RegExp, RegExp]>([
    ["done", ["show", SET_ID], 0, /^set id +019ab3c0/m, /^$/],
    ["did not hold", ["end", "rwo"], 1, /^$/, /^There is no station rwo here\. Did you mean row\? .*\n$/],
    ["wrong usage", ["end"], 2, /^$/, /^STATION is missing, as in: .*\n$/],
  ])("%s", async (_, words, exit, out, error) => {
    const ended = await start([...words, "--socket", here.socket]).ended;
    expect(ended.exit).toBe(exit);
    expect(ended.out).toMatch(out);
    expect(ended.error).toMatch(error);
  });

  test("bad configuration", async () => {
    const file = join(here.directory, "bad.toml");
    writeFileSync(file, "site = \n");
    const { exit, error } = await start(["run", "--config", file]).ended;
    expect(exit).toBe(78);
    expect(error).toMatch(
      /^\S+bad\.toml is not a configuration to start with; correct this:\n {2}line 1, column \d+: .+\n$/,
    );
  });
});

test("Ctrl-C ends watch politely", async () => {
  const { child, ended } = start(["watch", "--socket", here.socket]);
  while (here.gym.watchers() === 0) await new Promise(setImmediate);
  child.kill("SIGINT");
  expect(await ended).toEqual({ exit: 0, out: "", error: "" });
});

test("a reader that has had enough is no error", async () => {
  const { child, ended } = start(["watch", "--json", "--socket", here.socket]);
  while (here.gym.watchers() === 0) await new Promise(setImmediate);
  child.stdout!.destroy();
  const shout = setInterval(() => here.gym.happen({ station: "row", topic: "effort", message: {} }), 5);
  const { exit, error } = await ended;
  clearInterval(shout);
  expect([exit, error]).toEqual([0, ""]);
});

describe("an old Node", () => {
  test.each<[string, boolean]>([
    ["18.20.8", false],
    ["20.18.3", false],
    ["20.19.0", true],
    ["20.20.2", true],
    ["22.0.0", true],
    ["20.19.0-nightly", true],
  ])("%s: %s", (version, fits) => {
    expect(nodeVersionFault(version) === null).toBe(fits);
  });

  test("is told so before anything else, exit 2", async () => {
    const old = 'Object.defineProperty(process.versions, "node", { value: "18.20.8" })';
    const preload = ["--import", `data:text/javascript,${encodeURIComponent(old)}`];
    // The loader is there already when the version is changed, and does not mind.
    const { exit, out, error } = await start(["--help"], ["--import", "tsx", ...preload]).ended;
    expect([exit, out, error]).toEqual([
      2,
      "",
      "this is Node 18.20.8, and tidemark needs 20.19 or newer: install a newer one\n",
    ]);
  });
});
