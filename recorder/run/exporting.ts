/** What is kept, as a file to take along or to hand over: written by a process of its own, from one moment's view of the store. */
import { rmSync } from "node:fs";
import type { ExportResult } from "../../protocol/requests/care-results.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import { instant } from "../station/exchange.ts";
import { partialOf } from "../store/export-file.ts";
import type { ExportAnswer } from "../store/export-process.ts";
import type { Exported, ExportWish } from "../store/export-store.ts";
import { fileTrouble } from "../store/file-trouble.ts";
import { EndedApart, startApart } from "./apart.ts";
import type { CarePorts } from "./care.ts";
import { VERSION } from "./version.ts";

const WRITER = new URL("../store/export-process.ts", import.meta.url);

export async function exportTo({ path, trainee }: ArgsOf<"export">, ports: CarePorts): Promise<Outcome> {
  const { store, recorder, site, stopping, now, log } = ports;
  const header = {
    kind: "tidemark-export",
    format_version: 1,
    program: VERSION,
    ...{ store: store.store_id, recorder, site },
    exported_at: instant(now()),
    trainee: trainee ?? null,
  } as const;
  const wish: ExportWish = { store_path: ports.path, path, header };
  const writer = startApart<ExportAnswer>(WRITER);
  const onStop = (): void => void writer.end();
  stopping.addEventListener("abort", onStop);
  try {
    if (stopping.aborted) return BROKEN_OFF;
    const answer = await writer.ask(wish);
    if (answer.is === "exported") return done(resultOf(path, answer.exported));
    if (answer.is === "not-exported") return refused(answer.code, answer.why, answer.hint);
    log.error({ code: answer.code, why: answer.why }, "An export failed.");
    return { ok: false, error: fileTrouble(answer.code, answer.why, path, "write") };
  } catch (error) {
    if (!(error instanceof EndedApart)) throw error;
    await writer.end();
    rmSync(partialOf(path), { force: true });
    if (stopping.aborted) return BROKEN_OFF;
    log.error({ err: error }, "An export failed.");
    return refused("storage", `What wrote the file ended by ${error.message}.`, "Ask again; the log may say more.");
  } finally {
    stopping.removeEventListener("abort", onStop);
    await writer.end();
  }
}

const BROKEN_OFF = refused("busy", "The recorder stops, so the export was broken off.", "Ask again when it runs.");

/** How many of the sets that were left out are named. */
const NAMED = 5;

function resultOf(path: string, { bytes, counts, left_out }: Exported): ExportResult {
  const { set: sets, plan: plans, tag: tags, calibration: calibrations, check: checks } = counts;
  const named = left_out.slice(0, NAMED).map(({ set_id, why }) => `The set ${set_id} is not in the file: ${why}.`);
  const others = left_out.length - named.length;
  const notes = others > 0 ? [...named, `So are ${others} others not.`] : named;
  return { path, bytes, sets, plans, tags, calibrations, checks, notes };
}
