/** The recorder as a process: how it is told to end, what happens when it breaks, and what its log is to others. */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { expect, type TestContext, test } from "vitest";

const MAIN = fileURLToPath(new URL("../../../recorder/main.ts", import.meta.url));

interface Recorder {
  readonly child: ChildProcess;
  readonly lines: () => readonly Record<string, unknown>[];
  readonly errors: () => string;
  /** Resolves when its log says so. */
  readonly says: (sentence: RegExp) => Promise<void>;
  /** Its exit code, or the signal that ended it. */
  readonly ended: Promise<number | string>;
}

/** A recorder whose one board is not there, gone with the test whose context is given: others run at the same time. `preload`: what breaks it, or holds it up. */
function recorder({ onTestFinished }: TestContext, preload = "", words: readonly string[] = []): Recorder {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-life-"));
  onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
  const configuration = join(directory, "tidemark.toml");
  writeFileSync(
    configuration,
    `site = "hall"
recorder = "box"
embedded_broker = { port = 0 }
store = { path = "${join(directory, "tidemark.db")}" }
control = { socket = "${join(directory, "c", "a.sock")}", service_socket = "${join(directory, "c", "b.sock")}" }
[[station]]
id = "row"
exercise = "row"
serial_port = "${join(directory, "no-board")}"
resistance = "driven"
cell_capacity_N = 5000
force_limit_N = 4000
working_force_N = 2500
latitude_deg = 52.0
`,
  );
  const before = ["--import", `data:text/javascript,${encodeURIComponent(preload)}`];
  const child = spawn(
    process.execPath,
    [...before, "--import", "tsx", MAIN, "run", "--config", configuration, ...words],
    { stdio: ["ignore", "pipe", "pipe"] },
  );
  onTestFinished(() => void child.kill("SIGKILL"));
  let out = "";
  let errors = "";
  child.stdout.setEncoding("utf8").on("data", (text) => {
    out += text;
  });
  child.stderr.setEncoding("utf8").on("data", (text) => {
    errors += text;
  });
  const ended = once(child, "close").then(([code, signal]) => (signal ?? code) as number | string);
  return {
    child,
    lines: () => out.split("\n").flatMap((line) => (line === "" ? [] : [JSON.parse(line) as Record<string, unknown>])),
    errors: () => errors,
    async says(sentence) {
      while (!sentence.test(out)) {
        await Promise.race([
          once(child.stdout, "data"),
          ended.then((code) => Promise.reject(new Error(`ended: ${code}`))),
        ]);
      }
    },
    ended,
  };
}

const sentences = (of: Recorder): readonly unknown[] => of.lines().map(({ msg }) => msg);
const RUNS = /The recorder runs/;
const BREAKS = 'process.on("SIGUSR2", () => { throw new TypeError("an invented fault"); });';

test.concurrent.for(["SIGTERM", "SIGHUP"] as const)(
  "%s ends it as it should, 0, even when it comes twice",
  async (signal, context) => {
    const running = recorder(context);
    await running.says(RUNS);
    running.child.kill(signal);
    running.child.kill(signal);
    expect(await running.ended).toBe(0);
    expect(sentences(running).at(-1)).toBe("The recorder has stopped.");
    expect(running.errors()).toBe("");
  },
);

test.concurrent("told to end while it starts, it ends as soon as it has started, 0", async (context) => {
  // Given from within, the moment the first file of the store is opened: nothing of it runs yet.
  const preload = `import { Worker } from "node:worker_threads"; import { syncBuiltinESMExports, createRequire } from "node:module";
    const threads = createRequire("/")("node:worker_threads");
    threads.Worker = class extends Worker { constructor(...all) { super(...all); process.kill(process.pid, "SIGTERM"); } };
    syncBuiltinESMExports();`;
  const starting = recorder(context, preload);
  expect(await starting.ended).toBe(0);
  expect(sentences(starting).at(-1)).toBe("The recorder has stopped.");
});

test.concurrent("a fault of the program is one line, an orderly end, and 1", async (context) => {
  const running = recorder(context, BREAKS);
  await running.says(RUNS);
  running.child.kill("SIGUSR2");
  expect(await running.ended).toBe(1);
  const fatal = running.lines().filter(({ level }) => level === "fatal");
  expect(fatal).toEqual([
    expect.objectContaining({ msg: expect.stringMatching(/^The program broke/), err: expect.anything() }),
  ]);
  expect(fatal[0]?.["err"]).toMatchObject({ type: "TypeError", message: "an invented fault" });
  expect(fatal[0]?.["err"]).not.toHaveProperty("stack");
  expect(sentences(running).at(-1)).toBe("The recorder has stopped.");
  expect(running.errors()).toBe("");
});

test.concurrent("a rejection nobody waited for is one too; with --debug its stack is there", async (context) => {
  const preload = 'process.on("SIGUSR2", () => void Promise.reject(new TypeError("an invented fault")));';
  const running = recorder(context, preload, ["--debug"]);
  await running.says(RUNS);
  running.child.kill("SIGUSR2");
  expect(await running.ended).toBe(1);
  expect(running.lines().find(({ level }) => level === "fatal")).toMatchObject({
    err: { type: "TypeError", stack: expect.stringContaining("\n    at ") },
  });
});

test.concurrent("a recorder whose log nobody reads any more records on, and ends when it is told to", async (context) => {
  const running = recorder(context);
  await running.says(RUNS);
  running.child.stdout?.destroy();
  running.child.stderr?.destroy();
  // What it says of its end goes nowhere.
  running.child.kill("SIGTERM");
  expect(await running.ended).toBe(0);
});
