/** Flags that fill the fields of a request: what people type, turned into what the verb takes, faults said as flags. */
import type { z } from "zod";
import { check, type Fault, sayFault } from "../../protocol/requests/faults.ts";
import { type ArgsOf, VERBS, type Verb } from "../../protocol/requests/verbs.ts";
import { INTENTS, SIDES, STYLES } from "../../protocol/vocabulary.ts";
import { type Failure, type Flags, type FlagValues, wrongUsage } from "./command.ts";

export interface Field {
  /** Where it goes in the request; a dot goes one deeper. */
  readonly field: string;
  readonly kind: "text" | "number" | "whole-percent" | "percent" | "yes" | "no";
  readonly value?: string;
  readonly help: string;
}
export type Fields = Readonly<Record<string, Field>>;

const one = (names: readonly string[]): string => names.join("|");

export const BY: Fields = {
  "performed-by": { field: "performed_by", kind: "text", value: "CODE", help: "who asks: a code, stored" },
};

export const LOSS: Fields = {
  loss: {
    field: "fatigue_threshold",
    kind: "whole-percent",
    value: "PERCENT",
    help: "stop at this loss of strength, 10 to 75",
  },
};

const option = (name: string, value: string, help: string): Fields => ({
  [name.replaceAll("_", "-")]: { field: `options.${name}`, kind: value.includes("|") ? "text" : "number", value, help },
});

export const OPTIONS: Fields = {
  ...option("grace_s", "S", "how long a hold may be below the floor"),
  ...option("rest_limit_s", "S", "longest rest inside the set"),
  ...option("time_limit_s", "S", "longest set"),
  ...option("effort_limit", "N", "most efforts"),
  ...option("below_floor_to_stop", "N", "efforts in a row below the floor that end the set"),
  ...option("onset_force_N", "N", "where an effort begins, newtons"),
  ...option("efforts_per_cluster", "N", "rest-pause: efforts that make a cluster"),
  ...option("tested_best_force_N", "N", "a best tested before, newtons"),
  ...option("best_from", "set|today", "measure the loss from this set's best or today's"),
  ...option("ceiling_force_N", "N", "held: the clinician's ceiling, newtons"),
};

export const PLAN: Fields = {
  trainee: { field: "trainee", kind: "text", value: "CODE", help: "who trains: a code, never a name" },
  side: { field: "side", kind: "text", value: one(SIDES), help: "which side" },
  exercise: { field: "exercise", kind: "text", value: "NAME", help: "what is done, else the station's" },
  style: { field: "style", kind: "text", value: one(STYLES), help: "how, else the station's" },
  intent: { field: "intent", kind: "text", value: one(INTENTS), help: "as hard as possible, or under a ceiling" },
  "warm-up": { field: "warm_up", kind: "yes", help: "not one to compare" },
};

export const LOAD: Fields = {
  "mass-kg": { field: "mass_kg", kind: "number", value: "KG", help: "the load, as a mass" },
  "force-N": { field: "force_N", kind: "number", value: "N", help: "the load, as a force in newtons" },
  "tolerance-percent": { field: "relative_tolerance", kind: "percent", value: "PERCENT", help: "how well it is known" },
  at: { field: "at", kind: "text", value: "handle|cell", help: "where it hangs" },
  "lever-angle-deg": { field: "lever_angle_deg", kind: "number", value: "DEG", help: "the lever's angle to the level" },
};

export const flagsOf = (fields: Fields): Flags =>
  Object.fromEntries(
    Object.entries(fields).map(([name, { value, help }]) => [name, value === undefined ? { help } : { value, help }]),
  );

export type ReadArgs<V extends Verb> = { readonly args: ArgsOf<V> } | Failure;

/** The request's arguments as the verb's own schema takes them; a flag that does not fit is wrong usage. */
export function argsOf<V extends Verb>(verb: V, fields: Fields, flags: FlagValues, given: object): ReadArgs<V> {
  const args: Record<string, unknown> = { ...given };
  for (const [name, { field, kind }] of Object.entries(fields)) {
    const typed = flags[name];
    if (typed === undefined) continue;
    const value = typeof typed === "boolean" ? kind !== "no" : READERS[kind](typed);
    if (value === null) return wrongUsage(`--${name} takes ${TAKES[kind]}, not ${typed}`);
    const [first, second] = field.split(".") as [string, string?];
    if (second === undefined) args[first] = value;
    else args[first] = { ...(args[first] as object | undefined), [second]: value };
  }
  const checked = check<z.ZodType<ArgsOf<V>>>(VERBS[verb].args as unknown as z.ZodType<ArgsOf<V>>, args);
  if (checked.ok) return { args: checked.value };
  return wrongUsage(checked.faults.map((fault) => sayFault(asFlag(fault, fields))).join("; "));
}

const decimal = (typed: string): number | null => (/^-?\d+(\.\d+)?$/.test(typed) ? Number(typed) : null);
/** Through text: in binary 35 x 0.01 is not the number that 0.35 is read as. */
const percent = (typed: string): number | null => (decimal(typed) === null ? null : Number(`${typed}e-2`));

const READERS: Readonly<Record<Field["kind"], (typed: string) => unknown>> = {
  text: (typed) => typed,
  number: decimal,
  // The limits are the schema's, in fractions; said here in the unit that was typed.
  "whole-percent": (typed) =>
    /^\d{2}$/.test(typed) && Number(typed) >= 10 && Number(typed) <= 75 ? percent(typed) : null,
  percent,
  yes: () => true,
  no: () => false,
};
const TAKES: Readonly<Record<Field["kind"], string>> = {
  text: "text",
  number: "a number",
  "whole-percent": "whole percent from 10 to 75",
  percent: "a percentage",
  yes: "nothing",
  no: "nothing",
};

function asFlag(fault: Fault, fields: Fields): Fault {
  const name = Object.keys(fields).find((flag) => fields[flag]?.field === fault.path);
  if (name !== undefined) return { ...fault, path: `--${name}` };
  return { ...fault, path: OPERANDS[fault.path] ?? fault.path };
}

const OPERANDS: Readonly<Record<string, string>> = { station: "STATION", set_id: "SET_ID", trainee: "TRAINEE" };
