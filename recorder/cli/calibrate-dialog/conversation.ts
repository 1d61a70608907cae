/** The whole visit from the first caution to the last question, in the order of the technician. */
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { calibrationBeginResultSchema } from "../../../protocol/requests/results.ts";
import { VERBS } from "../../../protocol/requests/verbs.ts";
import type { Reply } from "../client.ts";
import { dayOf, monthsOn, type Read, readDue } from "./answers.ts";
import { asFound, type Checked } from "./found.ts";
import { asLeft } from "./left.ts";
import { answerOf, askPlace, type Place } from "./loads.ts";
import { type NewScale, newScale } from "./scale.ts";
import { saySummary } from "./summary.ts";
import { type Begun, STRANGER, type Visit } from "./visit.ts";
import { BEFORE_ANYTHING_HANGS, sayStation } from "./words.ts";

export interface Said {
  readonly performed_by: string | undefined;
  readonly note: string | undefined;
  /** An instant. */
  readonly due: string | undefined;
}

/** What was accepted: a record, or a check where the record in force stays. As the recorder answered. */
export interface Kept {
  readonly result: unknown;
  /** As somebody says it: what a later quick check may hang. */
  readonly load: string | null;
}

export interface Whole {
  readonly visit: Visit;
  readonly said: Said;
  /** The record in force, whether it fits what is on the line or not; null: none. */
  readonly in_force: CalibrationRecord | null;
  /** Of the computer here; for what is proposed as due. */
  readonly now_ms: number;
  /** Once it is sent it is not broken off any more. */
  readonly accept: (args: object) => Promise<Reply>;
}

export async function conversation(whole: Whole): Promise<Kept> {
  const { visit, in_force } = whole;
  const { dialog, house } = visit;
  dialog.say(`Calibration of ${visit.station}. Before anything hangs:`);
  dialog.say(BEFORE_ANYTHING_HANGS.map((caution) => `- ${caution}`).join("\n"));
  if (!(await dialog.yes("Is all of that so?", null))) return visit.leave();
  const performed_by = await whoIsIt(whole);
  const begun = await begin(visit, performed_by);
  const old = in_force?.calibration_id === begun.in_force ? in_force : null;
  dialog.say(sayStation(begun, old, house));
  const place = await askPlace(dialog);
  if (old === null) dialog.say("\nThere is no scale yet to look at as found.");
  const found = old === null ? [] : await asFound(visit, begun, place);
  if (found.some(({ check }) => check.force_N > 0) && !(await dialog.yes("\nCalibrate anew now?", true))) {
    return keepFound(whole, found);
  }
  for (;;) {
    const scale = await newScale(visit, begun, place);
    const kept = scale === null ? null : await checkAndKeep(whole, begun, place, scale, old);
    if (kept !== null) return kept;
  }
}

/** null: the scale is to be begun again. */
async function checkAndKeep(
  whole: Whole,
  begun: Begun,
  place: Place,
  scale: NewScale,
  old: CalibrationRecord | null,
): Promise<Kept | null> {
  const { visit } = whole;
  const { dialog, house } = visit;
  let left: readonly Checked[] = [];
  for (;;) {
    const checked = await asLeft(visit, begun, place, scale.load, left);
    if (checked === null) return null;
    left = checked;
    dialog.say(`\n${saySummary(begun, { scale, left, old }, house)}\n`);
    if (!(await dialog.yes("Keep this calibration?", null))) return visit.leave();
    const result = await keep(whole, "keep");
    if (result !== null) return { result, load: scale.load.said };
    dialog.say("Check again, or type anew when asked for a load to hang, to begin with the scale.");
  }
}

async function keepFound(whole: Whole, found: readonly Checked[]): Promise<Kept> {
  const { visit } = whole;
  if (!(await visit.dialog.yes("Keep what was found as a check of the record in force?", true))) return visit.leave();
  const result = await keep(whole, "check");
  return result === null ? visit.leave() : { result, load: found.at(-1)?.said ?? null };
}

/** The recorder's answer; null: it refused, which is said. */
async function keep({ visit, said, now_ms, accept }: Whole, what: "keep" | "check"): Promise<unknown> {
  const { dialog, house } = visit;
  const note = said.note ?? (await answerOf(dialog, "What is worth noting?", "Enter: nothing.", readNote));
  const today = dayOf(now_ms, house.time_zone);
  const next = monthsOn(today, 12);
  const due =
    said.due ??
    (await answerOf(
      dialog,
      what === "keep" ? "When is it to be done again?" : "When is it to be looked at again?",
      `A day, or a number of months; Enter: ${next}.`,
      (typed) => readDue(typed === "" ? next : typed, today, house.time_zone),
    ));
  const reply = await accept({ due, ...(note === "" ? {} : { note }) });
  if (reply.ok) return reply.result;
  if (reply.failure.refusal === undefined) return visit.fail(reply.failure);
  dialog.say(`Refused. ${reply.failure.message}`);
  return null;
}

function readNote(typed: string): Read<string> {
  if (typed === "" || VERBS["calibration-accept"].args.shape.note.safeParse(typed).success) {
    return { ok: true, value: typed };
  }
  return { ok: false, message: "A note is one line of at most 2000 characters." };
}

function readCode(typed: string): Read<string | undefined> {
  if (typed === "") return { ok: true, value: undefined };
  if (VERBS["calibration-begin"].args.shape.performed_by.safeParse(typed).success) return { ok: true, value: typed };
  return { ok: false, message: "A code is 1 to 40 of A-Z, a-z, 0-9, _ and -, never a name." };
}

async function whoIsIt({ visit, said }: Whole): Promise<string | undefined> {
  if (said.performed_by !== undefined) return said.performed_by;
  return answerOf(visit.dialog, "Who calibrates?", "A code, which is stored; Enter: nobody named.", readCode);
}

/** Opens the procedure; whoever left one open may have it ended here. */
async function begin(visit: Visit, performed_by: string | undefined): Promise<Begun> {
  const { dialog } = visit;
  const by = performed_by === undefined ? {} : { performed_by };
  for (;;) {
    const reply = await visit.ask("calibration-begin", by);
    if (reply.ok) {
      const begun = calibrationBeginResultSchema.safeParse(reply.result);
      return begun.success ? begun.data : visit.fail(STRANGER);
    }
    const { refusal, message } = reply.failure;
    if (refusal === undefined) return visit.fail(reply.failure);
    dialog.say(`Refused. ${message}`);
    const open = refusal.code === "busy" && refusal.hint?.includes("calibration-abandon") === true;
    if (open && (await dialog.yes("Abandon what is open there, if nobody else works on it?", false))) {
      await visit.ask("calibration-abandon", by);
    } else if (open || !(await dialog.yes("Try again?", true))) return visit.fail(reply.failure);
  }
}
