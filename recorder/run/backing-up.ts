/** A whole copy of the store, made by a process of its own: neither a station nor the keeping of sets waits for it. */
import type { BackupResult } from "../../protocol/requests/care-results.ts";
import { done, type Outcome } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { BackupMade } from "../store/backup.ts";
import { doApart } from "../store/backup-apart.ts";
import { NotDone } from "../store/backup-trouble.ts";
import { removePieces } from "../store/move-aside.ts";
import type { CarePorts } from "./care.ts";

export async function backUp(
  { path }: Pick<ArgsOf<"backup">, "path">,
  ports: Pick<CarePorts, "path" | "stopping">,
): Promise<Outcome> {
  const { path: store_path, stopping } = ports;
  try {
    const { made } = await doApart({ do: "backup", store_path, path }, stopping);
    return done(backupResult(path, made));
  } catch (error) {
    if (stopping.aborted) removePieces(`${path}.partial`);
    if (error instanceof NotDone) return { ok: false, error: error.refusal };
    throw error;
  }
}

function backupResult(path: string, { bytes, store, sets, last_set_seq, unreadable }: BackupMade): BackupResult {
  const { messages, logs } = unreadable;
  return {
    path,
    bytes,
    store,
    sets,
    last_set_seq,
    notes: [
      "It was opened and read through: every page, and the newest message and the input log of every set.",
      ...(messages > 0 ? [`The message of ${messages} sets cannot be read, in the store as in the backup.`] : []),
      ...(logs > 0 ? [`The input log of ${logs} sets cannot be read, in the store as in the backup.`] : []),
      "It does not hold the configuration and the files of passwords and keys it names: copy those by themselves.",
      "It does not hold sets that the store had not taken yet: while any wait, the stations show the alarm `storage`.",
      "It names trainees by their codes, and keeps those that are erased later: lock it up, and make a new one after an erasure.",
    ],
  };
}
