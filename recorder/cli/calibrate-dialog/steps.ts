/** A calibration step by step, for scripts: which verb each step is, what it takes, and what comes after it. */
import { z } from "zod";
import type { Verb } from "../../../protocol/requests/verbs.ts";
import { LOADINGS } from "../../../protocol/vocabulary.ts";
import { instantOf } from "../../drawing/instants.ts";
import { askAndSay } from "../ask-command.ts";
import { type Call, type ExitCode, type Failure, textOf, wrongUsage } from "../command.ts";
import { BY, type Fields, flagsOf, LOAD } from "../fields.ts";
import { LOAD_FLAGS, readLoadFlags } from "../load-flags.ts";
import { sayField, sayName } from "../quantities.ts";
import { readSettings } from "../settings.ts";

export const NOTE: Fields = {
  note: { field: "note", kind: "text", value: "TEXT", help: "kept with the record" },
  due: { field: "due", kind: "text", value: "DAY", help: "when it is to be done again, as 2027-11-24" },
};
const LOADING: Fields = {
  loading: { field: "loading", kind: "text", value: LOADINGS.join("|"), help: "reached from below, or from above" },
};
const SERIES: Fields = {
  series: { field: "series", kind: "number", value: "1..3", help: "of a check: which series, else the first" },
};
/** Of the steps alone. */
export const STEP_FLAGS = { ...flagsOf({ ...LOAD, ...LOADING, ...SERIES }), ...LOAD_FLAGS };

interface Step {
  readonly verb: Verb;
  readonly fields: Fields;
  /** What to do then; null: nothing is left to do. */
  readonly next: string | null;
}

const STEPS: Readonly<Record<string, Step>> = {
  begin: { verb: "calibration-begin", fields: BY, next: "check a known load as found, or take everything off: zero" },
  zero: { verb: "calibration-zero", fields: BY, next: "hang the load from below: load" },
  load: {
    verb: "calibration-load",
    fields: { ...LOAD, ...LOADING, ...BY },
    next: "the same load from above: load --loading decreasing; or another load: check",
  },
  check: {
    verb: "calibration-check",
    fields: { ...LOAD, ...LOADING, ...SERIES, ...BY },
    next: "another check; before the new points: zero; after them: accept",
  },
  accept: { verb: "calibration-accept", fields: { ...NOTE, ...BY }, next: null },
  abandon: { verb: "calibration-abandon", fields: BY, next: null },
};
export const STEP_NAMES = Object.keys(STEPS);

export async function takeStep(call: Call, name: string): Promise<ExitCode | Failure> {
  const step = Object.hasOwn(STEPS, name) ? STEPS[name] : undefined;
  if (step === undefined) {
    return wrongUsage(`--step takes one of ${STEP_NAMES.join(", ")}, in this order but for check and abandon`);
  }
  const { flags } = call;
  const takesLoad = "mass-kg" in step.fields;
  const known = new Set([...Object.keys(step.fields), ...(takesLoad ? Object.keys(LOAD_FLAGS) : [])]);
  const strangers = [...Object.keys(STEP_FLAGS), ...Object.keys(NOTE), "sheet"].filter(
    (flag) => flags[flag] !== undefined && !known.has(flag),
  );
  if (strangers.length > 0) return wrongUsage(`--step ${name} does not take --${strangers.join(" or --")}`);
  const load = readLoadFlags(takesLoad ? flags : {});
  if ("exit" in load) return load;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const due = textOf(flags, "due");
  const given = due === undefined ? flags : { ...flags, due: instantOf(due, settings.house.time_zone, "start") };
  return askAndSay(
    { ...call, flags: given },
    {
      verb: step.verb,
      fields: step.fields,
      given: {
        station: call.operands[0],
        // The verb wants it said; up is how a load is hung.
        ...(name === "check" ? { loading: "increasing" } : {}),
        ...load.given,
      },
      result: z.record(z.string(), z.unknown()),
      say: (result, house) => {
        const said = Object.entries(result).flatMap(([field, value]) =>
          typeof value === "object" ? [] : [`${sayName(field)} ${sayField(field, value, house)}`],
        );
        const warned = Array.isArray(result["warnings"]) ? result["warnings"].map(String) : [];
        return [`${name}: done`, ...said, ...warned, ...(step.next === null ? [] : [`next: ${step.next}`])].join(
          "\n  ",
        );
      },
    },
  );
}
