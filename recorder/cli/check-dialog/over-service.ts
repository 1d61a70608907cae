/** One check over the running service: who hangs the loads, what is shown meanwhile, and what comes of it. */
import { reportOf } from "../../../calibration/check-report/report.ts";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { reportBlocks } from "../check-sheet/report-blocks.ts";
import { sheetOfCheck } from "../check-sheet/sheet.ts";
import { sayBlocks } from "../check-sheet/text-sheet.ts";
import { ask } from "../client.ts";
import { type Call, DID_NOT_HOLD, type ExitCode, type Failure, type FlagValues } from "../command.ts";
import type { Input } from "../dialog/lines.ts";
import { type LiveFeed, openFeed } from "../dialog/live.ts";
import { sentencesAt } from "../dialog/wrapped.ts";
import type { Settings } from "../settings.ts";
import { guided, linesOf, type NextLine } from "./guided.ts";
import { readLoads } from "./loads.ts";
import { exitOf, quickText, sayCapture, writeSheets } from "./outcome.ts";
import type { CheckStep } from "./plan.ts";
import { rig, type Technician } from "./technician.ts";
import { type Visited, visit } from "./visit.ts";
import type { Wish } from "./wish.ts";

export interface Here {
  readonly call: Call;
  readonly station: string;
  readonly wish: Wish;
  /** The record in force. */
  readonly record: CalibrationRecord;
  readonly settings: Settings;
  /** What somebody types, where somebody sits. */
  readonly input: Input;
}

export async function checkOverService(here: Here): Promise<ExitCode | Failure> {
  const { call, wish } = here;
  const interrupted = call.terminal.interrupted();
  if (wish.plan !== null && wish.yes) {
    return finish(here, await go(here, wish.plan, rig(noteOf(call)), interrupted));
  }
  if (here.input.isTTY !== true) return NOBODY;
  const lines = linesOf(here.input, interrupted);
  const feed = openFeed(here.settings.service_socket, here.station);
  try {
    const plan = wish.plan ?? (await askedPlan(here, lines.next));
    if ("exit" in plan) return plan;
    noteOf(call)(MIND);
    return finish(here, await go(here, plan, atTerminal(here, lines.next, feed), interrupted));
  } finally {
    feed.close();
    lines.close();
  }
}

/** Common practice, no source; the sheet says more. */
const MIND =
  "Nobody on, under or beside a hung load; the motor off and locked; nothing heavier than the weakest part carries.";

const NOBODY: Failure = {
  exit: DID_NOT_HOLD,
  message:
    "nobody can be asked here: run it in a terminal, or add --yes where a rig hangs what --loads or --quick says",
};

/** In JSON the answer alone goes to the output; what is to be done is said beside it. */
function noteOf({ flags, terminal }: Call): (text: string) => void {
  const say = flags["json"] === true ? terminal.error : terminal.out;
  return (text) => say(sentencesAt(text, terminal.columns()));
}

async function askedPlan({ call, wish }: Here, next: NextLine): Promise<readonly CheckStep[] | Failure> {
  const note = noteOf(call);
  note("Which loads will hang, each in all? As in: 10 kg, 20 kg, 40 kg");
  for (;;) {
    const typed = await next();
    if (typed === null) return { exit: DID_NOT_HOLD, message: "no load was named: name what will hang with --loads" };
    const loads = readLoads(typed, call.flags as FlagValues);
    if (!("exit" in loads)) return wish.planFor(loads);
    note(loads.message);
  }
}

function atTerminal({ call, settings }: Here, nextLine: NextLine, feed: LiveFeed): Technician {
  const { write, columns } = call.terminal;
  return guided({
    // What is redrawn would stand between a script and its JSON.
    terminal: { write, columns: call.flags["json"] === true ? () => null : columns },
    note: noteOf(call),
    nextLine,
    house: settings.house,
    feed,
  });
}

function go(
  { call, station, wish, record, settings }: Here,
  plan: readonly CheckStep[],
  technician: Technician,
  interrupted: AbortSignal,
): Promise<Visited> {
  const note = noteOf(call);
  const { house } = settings;
  const by = wish.performed_by === undefined ? {} : { performed_by: wish.performed_by };
  return visit({
    plan,
    technician,
    interrupted,
    accept: wish.accept,
    ask: (verb, args, hangUp) =>
      ask({
        path: settings.service_socket,
        verb,
        args: { station, ...by, ...args },
        ...(hangUp === undefined ? {} : { signal: hangUp }),
      }),
    say: (step, taken) => sayCapture(step, taken, house),
    show(checks) {
      const report = reportOf(checks, "as-found", record);
      if (report !== null) note(`\n${wish.quick ? quickText(report) : sayBlocks(reportBlocks(report, house))}\n`);
    },
  });
}

function finish({ call, record, settings }: Here, ended: Visited): ExitCode | Failure {
  const { flags, terminal } = call;
  const json = flags["json"] === true;
  if (ended.is === "failed") return ended.failure;
  if (ended.is === "not-kept") {
    const report = reportOf(ended.checks, "as-found", record);
    terminal.out(json ? JSON.stringify({ check: null, report }) : "not kept, and no sheet is written of it");
    return exitOf(report);
  }
  const sheet = sheetOfCheck(ended.record, record);
  const report = sheet.parts[0]?.report ?? null;
  terminal.out(json ? JSON.stringify({ check: ended.record, report }) : `kept as check ${ended.record.check_id}`);
  const written = writeSheets(sheet, flags, settings.house);
  if ("exit" in written) return written;
  if (!json) for (const line of written) terminal.out(line);
  return exitOf(report);
}
