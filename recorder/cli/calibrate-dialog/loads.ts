/** Which load hangs, how well it is known, and where: asked for, and held against what fits here before anybody lifts it. */
import { acrossLever } from "../../../calibration/gravity.ts";
import { DEFAULT_RELATIVE_TOLERANCE } from "../../../calibration/procedure/known-load.ts";
import type { Dialog } from "../dialog/dialog.ts";
import { readLoad, type SpokenLoad } from "../load-words.ts";
import { sayForce, sayPercent } from "../quantities.ts";
import { type Read, readAngle, readTolerance } from "./answers.ts";
import type { Begun, Visit } from "./visit.ts";

export interface HungLoad {
  /** `40 kg` */
  readonly said: string;
  /** As the verbs take it. */
  readonly request: object;
}

/** How every load of this visit hangs. */
export interface Place {
  readonly at: "handle" | "cell";
  readonly lever_angle_deg?: number;
}

const UNITS = "Write it as 40 kg, 44.1 lb or 400 N; kg and lb hang here, N, kgf and lbf are forces.";

/** `least_N`: the smallest that will do; a check may be light. */
export async function askLoad(
  visit: Visit,
  begun: Begun,
  asked: { readonly question: string; readonly place: Place; readonly least_N: number },
): Promise<HungLoad> {
  const { dialog } = visit;
  for (;;) {
    const load = await answerOf(dialog, asked.question, UNITS, readSpoken);
    const fault = outOfRange(visit, begun, load, asked.place, asked.least_N);
    if (fault === null) return knownLoad(dialog, load, asked.place);
    dialog.say(fault);
  }
}

/** null: none, where nothing is typed. */
export async function askAnotherLoad(
  visit: Visit,
  begun: Begun,
  asked: { readonly question: string; readonly place: Place; readonly otherwise: string },
): Promise<HungLoad | null> {
  const { dialog } = visit;
  for (;;) {
    const typed = await dialog.ask(`${asked.question} ${asked.otherwise}`);
    if (typed === "") return null;
    const read = readSpoken(typed);
    const fault = read.ok ? outOfRange(visit, begun, read.value, asked.place, 0) : read.message;
    if (read.ok && fault === null) return knownLoad(dialog, read.value, asked.place);
    dialog.say(fault ?? "");
  }
}

async function knownLoad(dialog: Dialog, load: SpokenLoad, place: Place): Promise<HungLoad> {
  const stated = sayPercent(DEFAULT_RELATIVE_TOLERANCE);
  const relative_tolerance = await answerOf(
    dialog,
    "How well is it known?",
    `A class of weights such as M1, or a percentage; Enter: ${stated}.`,
    (typed) => (typed === "" ? { ok: true, value: DEFAULT_RELATIVE_TOLERANCE } : readTolerance(typed, load.amount)),
  );
  return { said: load.said, request: { ...load.amount, relative_tolerance, ...place } };
}

export async function askPlace(dialog: Dialog): Promise<Place> {
  const at = await answerOf(
    dialog,
    "Do the loads hang at the handle, or at the cell?",
    "At the marked grip of a lever the whole path to the cell is calibrated; Enter: at the handle.",
    (typed): Read<Place["at"]> => {
      const said = typed.toLowerCase().replace(/^at the /, "");
      if (said === "" || said === "handle") return { ok: true, value: "handle" };
      return said === "cell" ? { ok: true, value: "cell" } : { ok: false, message: "Type handle or cell." };
    },
  );
  if (at === "cell") return { at };
  const lever_angle_deg = await answerOf(
    dialog,
    "How many degrees is the lever off the level then?",
    "Level it if you can: ten degrees cost 1.5 %. Enter: 0, level.",
    (typed) => (typed === "" ? { ok: true, value: 0 } : readAngle(typed)),
  );
  return { at, lever_angle_deg };
}

/** Asks until it can be read. */
export async function answerOf<T>(
  dialog: Dialog,
  question: string,
  hint: string,
  read: (typed: string) => Read<T>,
): Promise<T> {
  for (let said = `${question} ${hint}`; ; ) {
    const answer = read(await dialog.ask(said));
    if (answer.ok) return answer.value;
    said = `${answer.message} ${question}`;
  }
}

function readSpoken(typed: string): Read<SpokenLoad> {
  const read = readLoad(typed);
  return read.ok ? { ok: true, value: read.load } : read;
}

/** The recorder judges it to the last digit; this is said before it is hung. */
function outOfRange({ house }: Visit, begun: Begun, load: SpokenLoad, place: Place, least_N: number): string | null {
  const { amount } = load;
  const straight_N = "mass_kg" in amount ? amount.mass_kg * begun.gravity_m_s2 : amount.force_N;
  const force_N = straight_N * acrossLever(place.lever_angle_deg ?? 0);
  const force = sayForce(force_N, house);
  if (force_N > begun.largest_load_N) {
    return `${load.said} would put ${force} on the sensor: at most ${sayForce(begun.largest_load_N, house)} may hang here.`;
  }
  if (force_N >= least_N) return null;
  return `${load.said} would put only ${force} on the sensor: at least ${sayForce(least_N, house)} makes a scale.`;
}
