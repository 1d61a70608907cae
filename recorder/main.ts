#!/usr/bin/env node
/** Ties the command line to this process: its words, streams, signals and exit code. */
import { nodeVersionFault } from "./cli/node-version.ts";

const fault = nodeVersionFault(process.versions.node);
if (fault === null) await main();
else {
  process.stderr.write(`${fault}\n`);
  process.exitCode = 2;
}

async function main(): Promise<void> {
  // An older Node fails on what these import, so they come after the check.
  const { runCli } = await import("./cli/cli.ts");
  const words = process.argv.slice(2);
  // Whoever reads our output may have had enough of it, as `head` does, or the terminal is gone. The service records on
  // without its log; a simulated gym was only there to be seen.
  process.stdout.on("error", (error: NodeJS.ErrnoException) => {
    if (error.code !== "EPIPE" && error.code !== "EIO") throw error;
    if (words[0] !== "run") process.exit();
    if (words.includes("--simulate")) process.emit("SIGINT");
  });
  // There is nobody left to tell.
  process.stderr.on("error", () => {});
  process.exitCode = await runCli(words, {
    out: (text) => process.stdout.write(`${text}\n`),
    error: (text) => process.stderr.write(`${text}\n`),
    write: (text) => process.stdout.write(text),
    columns: () => (process.stdout.isTTY ? process.stdout.columns : null),
    input: () => process.stdin,
    interrupted,
  });
}

function interrupted(): AbortSignal {
  const controller = new AbortController();
  // For good: a terminal and npm may both pass one Ctrl-C on, and the second would kill us while we tidy up.
  // The terminal's hanging up is no other wish. What is configured is read at a start, so there is nothing to read again.
  for (const signal of ["SIGINT", "SIGTERM", "SIGHUP"] as const) process.on(signal, () => controller.abort());
  return controller.signal;
}
