/** Has work on a whole copy of the store done in a process of its own. */
import { fork } from "node:child_process";
import type { Job, JobAnswer } from "./backup-process.ts";
import { NotDone } from "./backup-trouble.ts";

type Answer<Kind extends Job["do"]> = Extract<JobAnswer, { is: Kind }>;

/** Resolves with the answer. Rejects with a NotDone, also when it is given up; with any other error where a program broke. */
export function doApart<Kind extends Job["do"]>(job: Job & { do: Kind }, given_up: AbortSignal): Promise<Answer<Kind>> {
  return new Promise((resolve, reject) => {
    const child = start();
    let answer: JobAnswer | null = null;
    let failure: Error | null = null;
    const kill = (): void => void child.kill("SIGKILL");
    given_up.addEventListener("abort", kill, { once: true });
    if (given_up.aborted) kill();
    child.once("message", (said) => {
      answer = said as JobAnswer;
    });
    child.once("error", (error) => {
      failure = error;
      kill();
    });
    // Only once it is gone: until then it may have files open.
    child.once("close", (code, signal) => {
      given_up.removeEventListener("abort", kill);
      if (answer === null) return reject(failure ?? ended(given_up.aborted, signal ?? `code ${code}`));
      if (answer.is === "refused") return reject(NotDone.of(answer.refusal));
      if (answer.is === "broken") return reject(new Error(answer.stack));
      resolve(answer as Answer<Kind>);
    });
    child.send(job, (error) => {
      failure ??= error;
    });
  });
}

function start() {
  const here = import.meta.url;
  if (!here.endsWith(".ts")) return fork(new URL("./backup-process.js", here), { execArgv: [] });
  return fork(new URL("./backup-process.ts", here), { execArgv: ["--import", import.meta.resolve("tsx")] });
}

const ended = (given_up: boolean, how: string): NotDone =>
  given_up
    ? new NotDone("storage", "The recorder stops, so this was given up.", "Ask again once it runs.")
    : new NotDone(
        "storage",
        `The process that worked on the copy ended by ${how}.`,
        "Was there enough memory? Try again.",
      );
