/**
 * A guided calibration over the running service, from its beginning to the record, or to nothing: whatever ends it early,
 * the procedure is abandoned and the record in force stays what it was.
 */
import { z } from "zod";
import { type CalibrationRecord, calibrationRecordSchema, checkRecordSchema } from "../../../calibration/record.ts";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import { sayInstant } from "../../drawing/instants.ts";
import { keptSchema, recordInForce } from "../check-dialog/kept.ts";
import { writeSheets } from "../check-dialog/outcome.ts";
import { sheetOfCalibration, sheetOfCheck } from "../check-sheet/sheet.ts";
import { ask, type Reply } from "../client.ts";
import { type Call, DID_NOT_HOLD, type ExitCode, type Failure } from "../command.ts";
import { dialogAt } from "../dialog/dialog.ts";
import { type BrokenOff, linesOf, NEVER } from "../dialog/lines.ts";
import { openFeed } from "../dialog/live.ts";
import { sentencesAt } from "../dialog/wrapped.ts";
import type { Settings } from "../settings.ts";
import { conversation, type Kept, type Said } from "./conversation.ts";
import { STRANGER, type Visit } from "./visit.ts";

export interface Guided {
  readonly call: Call;
  readonly station: string;
  readonly said: Said;
  readonly settings: Settings;
}

type Ended =
  | { readonly is: "kept"; readonly kept: Kept }
  | { readonly is: "left" }
  | { readonly is: "broken"; readonly how: BrokenOff }
  | { readonly is: "failed"; readonly failure: Failure };

export async function calibrateOverService(guided: Guided): Promise<ExitCode | Failure> {
  const { call, station, said, settings } = guided;
  const { terminal } = call;
  const path = settings.service_socket;
  const reply = await ask({ path, verb: "calibrations", args: { station } });
  if (!reply.ok) return reply.failure;
  const known = keptSchema.safeParse(reply.result);
  if (!known.success) return STRANGER;
  const in_force = recordInForce(known.data);

  const interrupted = terminal.interrupted();
  const lines = linesOf(terminal.input(), interrupted);
  const feed = openFeed(path, station);
  // Set by whichever comes first; what else goes on then waits for ever.
  let giveUp: (ended: Ended) => void = () => {};
  const givenUp = new Promise<Ended>((resolve) => {
    giveUp = resolve;
  });
  void lines.broken.then((how) => giveUp({ is: "broken", how }));
  let begun = false;
  const accepting: Promise<Reply>[] = [];
  const at = (verb: Verb, args: object, signal?: AbortSignal): Promise<Reply> =>
    ask({ path, verb, args: { station, ...args }, ...(signal === undefined ? {} : { signal }) });
  const visit: Visit = {
    station,
    house: settings.house,
    dialog: dialogAt({ terminal, lines, feed, house: settings.house }),
    async ask(verb, args = {}) {
      if (verb === "calibration-begin") begun = true;
      const answer = await at(verb, args, interrupted);
      // Somebody else's, or none: it is not ours to abandon.
      if (verb === "calibration-begin" && !answer.ok) begun = false;
      return interrupted.aborted ? NEVER : answer;
    },
    async leave() {
      giveUp({ is: "left" });
      return NEVER;
    },
    async fail(failure) {
      giveUp({ is: "failed", failure });
      return NEVER;
    },
  };
  const accept = (args: object): Promise<Reply> => {
    const answer = at("calibration-accept", args);
    accepting.push(answer);
    return answer;
  };
  try {
    const talk = conversation({ visit, said, in_force, now_ms: Date.now(), accept });
    const ended = await Promise.race([talk.then((kept): Ended => ({ is: "kept", kept })), givenUp]);
    const kept = ended.is === "kept" ? ended.kept : await keptAllTheSame(accepting.at(-1));
    if (kept !== null) return finish(guided, kept, in_force);
    if (begun) await at("calibration-abandon", {});
    if (terminal.columns() !== null && ended.is === "broken") terminal.out("");
    return sayEnded(ended, begun, in_force);
  } finally {
    feed.close();
    lines.close();
  }
}

/** An accept that was on its way when somebody broke it off is not taken back. */
async function keptAllTheSame(accepting: Promise<Reply> | undefined): Promise<Kept | null> {
  const answer = await accepting;
  return answer?.ok === true ? { result: answer.result, load: null } : null;
}

function sayEnded(ended: Ended, begun: boolean, in_force: CalibrationRecord | null): Failure {
  const stays =
    in_force === null ? "there is no calibration in force, as before" : "the old calibration stays in force";
  if (ended.is === "failed") {
    const { failure } = ended;
    if (!begun) return failure;
    return { ...failure, message: `${failure.message}\nThe calibration ended there: ${stays}.` };
  }
  const why =
    ended.is === "left"
      ? "The calibration was left"
      : ended.is === "broken" && ended.how === "closed"
        ? "The calibration ended where nothing more was typed"
        : "The calibration was broken off";
  return { exit: DID_NOT_HOLD, message: `${why}: ${stays}, and nothing of this visit is kept.` };
}

const acceptedSchema = z.union([z.object(calibrationRecordSchema.shape), z.object(checkRecordSchema.shape)]);

function finish(
  { call, station, settings }: Guided,
  { result, load }: Kept,
  in_force: CalibrationRecord | null,
): ExitCode | Failure {
  const { terminal } = call;
  const out = (text: string): void => terminal.out(sentencesAt(text, terminal.columns()));
  const { house } = settings;
  const accepted = acceptedSchema.safeParse(result);
  if (!accepted.success) return STRANGER;
  const record = accepted.data;
  const until = record.due === null ? "" : `, due again on ${sayInstant(record.due, house.time_zone).slice(0, 10)}`;
  const checked = "check_id" in record;
  if (checked) out(`kept as check ${record.check_id}${until}: the record in force stays`);
  else out(`kept as calibration ${record.calibration_id}, in force from now on${until}`);
  const plate = load ?? "20 kg";
  out(`check it every month with \`tidemark check-loads ${station} --quick "${plate}"\``);
  if (!checked && in_force !== null) {
    out(`back to the one before: \`tidemark calibrations ${station} --use ${in_force.calibration_id.slice(0, 8)}\``);
  }
  const sheet = checked
    ? in_force === null
      ? null
      : sheetOfCheck(record, in_force)
    : sheetOfCalibration(record, in_force);
  const written = sheet === null ? [] : writeSheets(sheet, call.flags, house);
  if ("exit" in written) return written;
  for (const line of written) out(line);
  return 0;
}
