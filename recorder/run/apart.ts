/**
 * A process of its own for long work with files, and what it says. Unlike a thread it can be ended at any moment, gives way to
 * whoever records, and where a hostile file fills its memory it goes down alone: in a thread that would end the recorder.
 */
import { type ChildProcess, fork } from "node:child_process";
import { once } from "node:events";

/** Ten times what an honest line of a file needs. */
const MEMORY_MB = 256;

/** It ended without an answer; the message says how, as the end of a sentence. */
export class EndedApart extends Error {}

export interface Apart<Said> {
  /** Asks, and resolves with what is said then. Rejects with EndedApart where it ends instead. */
  ask(question: object): Promise<Said>;
  /** Ends it, if it has not ended; resolves when it is gone, with all it had open. */
  end(): Promise<void>;
}

/** `source` is the URL of the process's file as a source file of this program. */
export function startApart<Said>(source: URL): Apart<Said> {
  const child = start(source);
  const gone = once(child, "close");
  // Whoever waits for an answer hears of it.
  gone.catch(() => {});
  return {
    ask: (question) => answered<Said>(child, question),
    async end() {
      if (child.exitCode === null && child.signalCode === null) child.kill("SIGKILL");
      await gone.catch(() => {});
    },
  };
}

function start(source: URL): ChildProcess {
  const limit = `--max-old-space-size=${MEMORY_MB}`;
  // Bytes travel as bytes.
  const options = { serialization: "advanced", stdio: ["ignore", "ignore", "ignore", "ipc"] } as const;
  if (!import.meta.url.endsWith(".ts")) {
    return fork(new URL(source.href.replace(/\.ts$/, ".js")), {
      ...options,
      stdio: [...options.stdio],
      execArgv: [limit],
    });
  }
  const execArgv = [limit, "--import", import.meta.resolve("tsx")];
  return fork(source, { ...options, stdio: [...options.stdio], execArgv });
}

function answered<Said>(child: ChildProcess, question: object): Promise<Said> {
  return new Promise((resolve, reject) => {
    const done = (): void => {
      child.off("message", said);
      child.off("error", failed);
      child.off("close", ended);
    };
    const said = (message: unknown): void => {
      done();
      resolve(message as Said);
    };
    const failed = (error: Error): void => {
      done();
      reject(new EndedApart(error.message, { cause: error }));
    };
    const ended = (code: number | null, signal: string | null): void => failed(new Error(signal ?? `code ${code}`));
    child.on("message", said);
    child.on("error", failed);
    child.on("close", ended);
    if (child.exitCode !== null || child.signalCode !== null) ended(child.exitCode, child.signalCode);
    else child.send(question, (error) => (error === null ? undefined : failed(error)));
  });
}
