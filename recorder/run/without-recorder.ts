/**
 * Backup and restore where no recorder runs: on a new box, on one that does not start, or with the service stopped. Whoever types
 * takes the recorder's place meanwhile, lock and all, so that none starts in the middle.
 */
import { chownSync, statSync } from "node:fs";
import { dirname } from "node:path";
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import { StoreFailure } from "../store/failure.ts";
import { type Lock, lockStore } from "../store/lock.ts";
import { pendingPath } from "../store/restore-pending.ts";
import { backUp } from "./backing-up.ts";
import { prepare } from "./restoring.ts";

export const backUpHere = (store_path: string, path: string, stopping: AbortSignal): Promise<Outcome> =>
  alone(store_path, () => backUp({ path }, { path: store_path, stopping }));

export const restoreHere = (store_path: string, path: string, stopping: AbortSignal): Promise<Outcome> =>
  alone(store_path, () => prepare(path, { path: store_path, stopping }, [startsWithIt(store_path)]));

const startsWithIt = (store_path: string): string =>
  `No recorder runs, so nothing has changed yet: start it, and it begins with the restored record; delete ${pendingPath(store_path)} to give that up.`;

async function alone(store_path: string, work: () => Promise<Outcome>): Promise<Outcome> {
  // What is kept is about people, if only by their codes: not for everybody on this machine.
  const before = process.umask(0o027);
  let lock: Lock | undefined;
  try {
    lock = lockStore(store_path);
    leaveTo(`${store_path}-lock`, dirname(store_path));
    return await work();
  } catch (error) {
    if (!(error instanceof StoreFailure)) throw error;
    if (error.code === "in-use") {
      return refused(
        "busy",
        `${store_path} is taken: by a recorder that does not answer here, or by another backup or restore.`,
        "Stop the recorder, or wait until it has started; of the others, wait for the end.",
      );
    }
    return refused("storage", `${error.message}.`);
  } finally {
    lock?.release();
    process.umask(before);
  }
}

/** Root makes files that the recorder's own user could not open afterwards. */
function leaveTo(file: string, folder: string): void {
  if (process.getuid?.() !== 0) return;
  const { uid, gid } = statSync(folder);
  chownSync(file, uid, gid);
}
