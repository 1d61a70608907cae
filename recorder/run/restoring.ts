/**
 * A backup in the place of the store. All that can go wrong goes wrong beside the store, while it is in use; then the recorder
 * ends between sets, and the next opening puts the prepared one in its place.
 */
import type { RestoreResult } from "../../protocol/requests/care-results.ts";
import { done, type Outcome } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import { takenAlready } from "../station/readiness.ts";
import { doApart } from "../store/backup-apart.ts";
import { NotDone } from "../store/backup-trouble.ts";
import { removePieces } from "../store/move-aside.ts";
import { partialPath } from "../store/restore-pending.ts";
import type { Prepared } from "../store/restore-prepare.ts";
import type { CarePorts } from "./care.ts";
import type { StationLoop } from "./station-loop.ts";

type Loops = ReadonlyMap<string, Pick<StationLoop, "station">>;
export type RestorePorts = Pick<CarePorts, "path" | "stopping" | "broke"> & { readonly loops: Loops };

const BEGINS_AGAIN =
  "The recorder ends now, and begins again with the restored record: the service manager starts it, or else `tidemark run`.";

export async function restore({ path }: Pick<ArgsOf<"restore">, "path">, ports: RestorePorts): Promise<Outcome> {
  const taken = inUse(ports.loops);
  if (taken !== null) return { ok: false, error: taken };
  const outcome = await prepare(path, ports, [BEGINS_AGAIN]);
  if (outcome.ok) endBetweenSets(ports);
  return outcome;
}

/** Only beside the store: the next opening does the rest. `notes` come first in the answer. */
export async function prepare(
  path: string,
  { path: store_path, stopping }: Pick<RestorePorts, "path" | "stopping">,
  notes: readonly string[],
): Promise<Outcome> {
  try {
    const { prepared } = await doApart({ do: "restore", store_path, path }, stopping);
    return done(restoreResult(prepared, notes));
  } catch (error) {
    if (stopping.aborted) removePieces(partialPath(store_path));
    if (error instanceof NotDone) return { ok: false, error: error.refusal };
    throw error;
  }
}

/** Somebody is at a station, or sees to it; null: nobody. */
function inUse(loops: Loops): Refusal | null {
  for (const { station } of loops.values()) {
    const taken = takenAlready(station);
    if (taken !== null) return taken;
  }
  return null;
}

const LOOK_EVERY_MS = 100;

/** Somebody may have begun while the copy was made: nobody's set is cut short for a restore. The answer goes out first. */
function endBetweenSets({ loops, broke, stopping }: RestorePorts): void {
  const looking = setInterval(() => {
    if (inUse(loops) !== null) return;
    clearInterval(looking);
    broke("The recorder ends to begin again with a restored record.");
  }, LOOK_EVERY_MS);
  stopping.addEventListener("abort", () => clearInterval(looking), { once: true });
}

function restoreResult(
  { new_store, store, sets, last_set_seq, kept_aside, sealed }: Prepared,
  notes: readonly string[],
): RestoreResult {
  return {
    store: new_store,
    former_store: store,
    sets,
    last_set_seq,
    kept_aside,
    notes: [
      ...notes,
      ...(sealed ? [] : ["This is no backup but the file of a store: what was kept in it last may be missing."]),
      "Zero each station with nothing and nobody on it before the first set.",
      "Calibrations made here since then stay, and the latest one of each station stays in force.",
      "Who was erased after this backup was made is in it again: erase them again.",
      ...(kept_aside === null ? [] : ["Delete what was kept aside once nobody wants it back; it holds trainees, too."]),
    ],
  };
}
