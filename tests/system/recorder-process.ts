/** The built recorder as a process of its own, as a box runs it, and the command line beside it. */
import { type ChildProcess, execFile, spawn } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";

/** TIDEMARK_MAIN: one that was built elsewhere, where others build too. */
const MAIN = process.env["TIDEMARK_MAIN"] ?? fileURLToPath(new URL("../../dist/recorder/main.js", import.meta.url));

export class RecorderProcess {
  readonly #configuration: string;
  #child: ChildProcess | null = null;
  #log = "";
  #ended: Promise<number | null> = Promise.resolve(null);

  constructor(configuration: string) {
    this.#configuration = configuration;
  }

  get log(): string {
    return this.#log;
  }

  get pid(): number {
    const pid = this.#child?.pid;
    if (pid === undefined) throw new Error("it does not run");
    return pid;
  }

  get runs(): boolean {
    return this.#child?.exitCode === null;
  }

  /** Its exit code, once it has ended by itself or was told to. */
  get ended(): Promise<number | null> {
    return this.#ended;
  }

  async start(): Promise<void> {
    const child = spawn(process.execPath, [MAIN, "run", "--config", this.#configuration]);
    this.#child = child;
    this.#ended = once(child, "exit").then(([code]) => code as number | null);
    for (const stream of [child.stdout, child.stderr]) {
      stream.on("data", (bytes: Buffer) => {
        this.#log += bytes.toString();
      });
    }
    await once(child, "spawn");
  }

  /** Stands still, as on a host that was put to sleep, and goes on. */
  async suspend(for_ms: number): Promise<void> {
    this.#child?.kill("SIGSTOP");
    await new Promise((resolve) => setTimeout(resolve, for_ms));
    this.#child?.kill("SIGCONT");
  }

  /** The exit code, and how long it took, ms. */
  async stop(
    signal: "SIGTERM" | "SIGKILL" = "SIGTERM",
  ): Promise<{ readonly code: number | null; readonly took_ms: number }> {
    const child = this.#child;
    this.#child = null;
    if (child === null || child.exitCode !== null) return { code: child?.exitCode ?? null, took_ms: 0 };
    const began_ms = performance.now();
    const gone = once(child, "exit");
    child.kill(signal);
    const [code] = (await gone) as [number | null];
    return { code, took_ms: performance.now() - began_ms };
  }

  /** Runs one command against it; its JSON. */
  async ask(...words: readonly string[]): Promise<Record<string, unknown>> {
    const { stdout } = await promisify(execFile)(process.execPath, [
      MAIN,
      ...words,
      "--json",
      "--config",
      this.#configuration,
    ]);
    return JSON.parse(stdout) as Record<string, unknown>;
  }
}
