/** What is kept, as a file to take along or to hand over: written by a thread of its own, from one moment's view of the store. */
import { existsSync } from "node:fs";
import { dirname } from "node:path";
import type { ExportResult } from "../../protocol/requests/care-results.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import { instant } from "../station/exchange.ts";
import type { Exported } from "../store/export-store.ts";
import type { ExportAnswer, ExportData } from "../store/export-worker.ts";
import { noHurry } from "../store/serve.ts";
import type { CarePorts } from "./care.ts";
import { heardNext, startThread } from "./thread.ts";
import { VERSION } from "./version.ts";

const WORKER = new URL("../store/export-worker.ts", import.meta.url);

export async function exportTo({ path, trainee }: ArgsOf<"export">, ports: CarePorts): Promise<Outcome> {
  const { store, recorder, site, stopping, now, log } = ports;
  if (existsSync(path)) {
    return refused("not-permitted", `${path} is there already, and nothing is written over.`, "Name another file.");
  }
  const header = {
    kind: "tidemark-export",
    format_version: 1,
    program: VERSION,
    ...{ store: store.store_id, recorder, site },
    exported_at: instant(now()),
    trainee: trainee ?? null,
  } as const;
  const stop = noHurry();
  const data: ExportData = { wish: { store_path: ports.path, path, header }, stop };
  const worker = startThread(WORKER, data);
  const onStop = (): void => void Atomics.store(stop, 0, 1);
  if (stopping.aborted) onStop();
  stopping.addEventListener("abort", onStop);
  try {
    const answer = await heardNext<ExportAnswer>(worker);
    if (answer.is === "exported") return done(resultOf(path, answer.exported));
    if (answer.is === "not-exported") return refused(answer.code, answer.why);
    log.error({ code: answer.code, why: answer.why }, "An export failed.");
    return sayFileTrouble(answer, path, "write");
  } finally {
    stopping.removeEventListener("abort", onStop);
  }
}

/** How many of the sets that were left out are named. */
const NAMED = 5;

function resultOf(path: string, { bytes, counts, left_out }: Exported): ExportResult {
  const { set: sets, plan: plans, tag: tags, calibration: calibrations, check: checks } = counts;
  const named = left_out.slice(0, NAMED).map(({ set_id, why }) => `The set ${set_id} is not in the file: ${why}.`);
  const others = left_out.length - named.length;
  const notes = others > 0 ? [...named, `So are ${others} others not.`] : named;
  return { path, bytes, sets, plans, tags, calibrations, checks, notes };
}

/** What the system said of a file of somebody's, in words of what would do. `code` is the system's. */
export function sayFileTrouble(
  { code, why }: { readonly code: string | null; readonly why: string },
  path: string,
  doing: "read" | "write",
): Outcome {
  const done_by = `The recorder's own user ${doing === "read" ? "reads" : "writes"} it, not whoever asks`;
  const folder = dirname(path);
  switch (code) {
    case "EACCES":
    case "EPERM":
    case "EROFS":
      return refused(
        "not-permitted",
        `The recorder may not ${doing} ${path}.`,
        `${done_by}: give that user the right to, or name a place where it has it.`,
      );
    case "ENOENT":
    case "ENOTDIR":
      if (doing === "read") return refused("out-of-range", `There is no file ${path} on the recorder's machine.`);
      return refused(
        "out-of-range",
        `There is no folder ${folder} on the recorder's machine.`,
        "Make it, or name another.",
      );
    case "ENOSPC":
    case "EDQUOT":
      return refused("storage", `The disk of ${folder} is full.`, "Make room on it, or name a folder on another one.");
    default:
      return refused("storage", `${path} could not be ${doing === "read" ? "read" : "written"}: ${why}.`);
  }
}
