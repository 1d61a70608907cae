/**
 * A process of its own for work on a whole copy of the store. SQLite cannot be interrupted in the middle of reading a large file
 * through, and a thread in it cannot be ended without ending the recorder; a process can, at any moment. A damaged file that
 * brings it down takes nobody with it. It gives way to whoever records, and ends with them.
 */
import { setPriority } from "node:os";
import { setImmediate } from "node:timers/promises";
import type { Refusal } from "../../protocol/vocabulary.ts";
import { type BackupMade, makeBackup } from "./backup.ts";
import { NotDone } from "./backup-trouble.ts";
import { StoreFailure } from "./failure.ts";
import { placeRestored } from "./restore-place.ts";
import { type Prepared, prepareRestore } from "./restore-prepare.ts";

export type Job =
  | { readonly do: "backup" | "restore"; readonly store_path: string; readonly path: string }
  /** What a restore has prepared. */
  | { readonly do: "place"; readonly store_path: string };

export type JobAnswer =
  | { readonly is: "backup"; readonly made: BackupMade }
  | { readonly is: "restore"; readonly prepared: Prepared }
  | { readonly is: "place"; readonly said: string | null }
  | { readonly is: "refused"; readonly refusal: Refusal }
  | { readonly is: "broken"; readonly stack: string };

const GIVES_WAY = 10;

process.once("message", (job: Job) => {
  void work(job).then((answer) => process.send?.(answer, () => process.disconnect()));
});

async function work(job: Job): Promise<JobAnswer> {
  try {
    return await answerTo(job);
  } catch (error) {
    if (error instanceof StoreFailure) return { is: "refused", refusal: { code: "storage", message: error.message } };
    if (error instanceof NotDone) return { is: "refused", refusal: error.refusal };
    return { is: "broken", stack: error instanceof Error ? (error.stack ?? error.message) : String(error) };
  }
}

async function answerTo(job: Job): Promise<JobAnswer> {
  const { store_path } = job;
  await turn();
  if (job.do === "place") return { is: "place", said: placeRestored(store_path) };
  setPriority(GIVES_WAY);
  if (job.do === "backup") return { is: "backup", made: await makeBackup(store_path, job.path, turn) };
  return { is: "restore", prepared: await prepareRestore(store_path, job.path, turn) };
}

/** Whoever asked may be gone, and another recorder may be here: nothing more is touched. */
async function turn(): Promise<void> {
  await setImmediate();
  if (!process.connected) process.exit(1);
}
