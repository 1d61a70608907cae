/** A bench in the process that holds the lines: what it is given, what it starts and must end, and how its rows get out. */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Row } from "../row.ts";
import { inheritedPtys, type Pty } from "./pty.ts";

export interface Stage {
  readonly quick: boolean;
  readonly ptys: readonly Pty[];
  /** Empty, and gone afterwards. */
  readonly folder: string;
  /** Starts a program that is ended with the bench; its messages come on the object that is given back. */
  start(program: string, args: readonly string[], options?: { readonly talks?: boolean }): ChildProcess;
  end(child: ChildProcess): Promise<void>;
}

export async function onStage(measure: (stage: Stage) => Promise<readonly Row[]>): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), "tidemark-stage-"));
  const running = new Set<ChildProcess>();
  const killAll = (): void => {
    for (const child of running) child.kill("SIGKILL");
    rmSync(folder, { recursive: true, force: true });
  };
  process.on("exit", killAll);
  // A signal alone would end the process without the tidying up.
  for (const signal of ["SIGINT", "SIGTERM"] as const) process.on(signal, () => process.exit(1));
  // Whoever asked for it is gone.
  process.on("disconnect", () => process.exit(1));
  const stage: Stage = {
    quick: process.argv.includes("--quick"),
    ptys: inheritedPtys(),
    folder,
    start(program, args, options = {}) {
      const talks = options.talks === true ? (["ipc"] as const) : [];
      const child = spawn(program, args, { stdio: ["ignore", "ignore", "inherit", ...talks] });
      running.add(child);
      child.once("exit", () => running.delete(child));
      return child;
    },
    async end(child) {
      if (child.exitCode !== null || child.signalCode !== null) return;
      const gone = once(child, "exit");
      child.kill("SIGTERM");
      await gone;
    },
  };
  const rows = await measure(stage);
  process.send?.(rows, () => process.exit(0));
}

export const pause = (for_ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, for_ms));

/** Looks every few milliseconds, for as long as may be. */
export async function until(what: string, is: () => boolean, patience_ms = 20_000): Promise<void> {
  for (const began_ms = performance.now(); !is(); await pause(2)) {
    if (performance.now() - began_ms > patience_ms)
      throw new Error(`waited ${patience_ms / 1000} s in vain for ${what}`);
  }
}
