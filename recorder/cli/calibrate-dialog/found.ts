/** As found: what the record in force says of known loads, before anything is changed. */
import type { Check } from "../../../calibration/record.ts";
import { askAnotherLoad, askLoad, type HungLoad, type Place } from "./loads.ts";
import { type Begun, capture, checkedSchema, checkOf, type Visit } from "./visit.ts";
import { sayCheck } from "./words.ts";

const SKIP = ["skip"] as const;

export interface Checked {
  readonly said: string;
  readonly check: Check;
}

/** Nothing on, then loads upwards, for as long as more are named; empty where it was left out. */
export async function asFound(visit: Visit, begun: Begun, place: Place): Promise<readonly Checked[]> {
  const { dialog } = visit;
  dialog.say("\nAs found: what the record in force says of a known load shows how far past sets were off.");
  if (!(await dialog.yes("Is a known load at hand, to look before anything is changed?", true))) return [];
  let load: HungLoad | null = await askLoad(visit, begun, {
    question: "Which load will hang, in all?",
    place,
    least_N: 0,
  });
  const first = await takeCheck(visit, begun, {
    instruction:
      `Hang ${load.said} and take it off again, three times, so that everything settles. ` +
      "Then leave nothing on that is not always there.",
    load: null,
    loading: "increasing",
    words: SKIP,
  });
  const found: Checked[] = first === null ? [] : [first];
  while (load !== null) {
    const taken = await takeCheck(visit, begun, {
      instruction: `Hang ${load.said} in all. Let it down gently, never past where it comes to rest, then let go.`,
      load,
      loading: "increasing",
      words: SKIP,
    });
    if (taken !== null) found.push(taken);
    load = await askAnotherLoad(visit, begun, {
      question: "Another load?",
      place,
      otherwise: "A heavier one says more; Enter: no.",
    });
  }
  return found;
}

export interface CheckStep {
  readonly instruction: string;
  /** null: nothing on. */
  readonly load: HungLoad | null;
  readonly loading: Check["loading"];
  readonly words: readonly string[];
}

/** One check, said; null: skipped. */
async function takeCheck(visit: Visit, begun: Begun, step: CheckStep): Promise<Checked | null> {
  const taken = await takeCheckOr(visit, begun, step);
  return typeof taken === "string" ? null : taken;
}

/** One check, said; or the word that was typed instead. */
export async function takeCheckOr(visit: Visit, begun: Begun, step: CheckStep): Promise<Checked | string> {
  const { load, loading, instruction, words } = step;
  const taken = await capture(visit, begun, {
    instruction,
    verb: "calibration-check",
    args: { ...(load === null ? { force_N: 0 } : load.request), loading },
    result: checkedSchema,
    words,
  });
  if (taken.is === "word") return taken.word;
  const checked = { said: load?.said ?? "nothing on", check: checkOf(taken.result) };
  visit.dialog.say(`  ${sayCheck(checked, visit.house)}`);
  for (const warning of taken.result.warnings ?? []) visit.dialog.say(`  ${warning}`);
  return checked;
}
