/** The flags of `plan` as what is to change in a plan. */
import type { ArgsOf } from "../../../protocol/requests/verbs.ts";
import { SIDES, type Side } from "../../../protocol/vocabulary.ts";
import { type Failure, type Flags, type FlagValues, textOf, wrongUsage } from "../command.ts";
import { argsOf, BY, type Fields, flagsOf, LOSS, OPTIONS, PLAN } from "../fields.ts";

const { exercise, style, intent } = PLAN as Record<"exercise" | "style" | "intent", Fields[string]>;

/** These may be another on one side. */
const OF_A_SIDE: Fields = { ...LOSS, intent, ...OPTIONS };
const OF_ALL: Fields = {
  exercise,
  style,
  "warm-ups": { field: "warm_up.sets", kind: "number", value: "N", help: "so many first sets a day and side" },
  "warm-up-loss": {
    field: "warm_up.fatigue_threshold",
    kind: "whole-percent",
    value: "PERCENT",
    help: "with --warm-ups: where those end",
  },
  "rest-s": { field: "rest_s", kind: "number", value: "S", help: "between two sets; a begin says where it was less" },
  note: { field: "note", kind: "text", value: "TEXT", help: "one line; no names of people" },
};

/** What --clear takes, and what it clears. */
const CLEARS: Readonly<Record<string, { readonly field: string; readonly of_a_side?: true; readonly to: unknown }>> = {
  sides: { field: "sides", to: [] },
  exercise: { field: "exercise", to: null },
  style: { field: "style", to: null },
  intent: { field: "intent", of_a_side: true, to: null },
  loss: { field: "fatigue_threshold", of_a_side: true, to: null },
  setup: { field: "setup", of_a_side: true, to: null },
  options: { field: "options", of_a_side: true, to: null },
  "warm-ups": { field: "warm_up", to: null },
  "rest-s": { field: "rest_s", to: null },
  note: { field: "note", to: null },
};

/** One option by its flag's name; all of them as "options". */
const clears = (name: string): (typeof CLEARS)[string] | undefined => {
  if (Object.hasOwn(CLEARS, name)) return CLEARS[name];
  return Object.hasOwn(OPTIONS, name) ? { field: OPTIONS[name]?.field ?? "", of_a_side: true, to: null } : undefined;
};
const CLEARABLE = `${Object.keys(CLEARS).join(", ")} or one option's flag, as grace-s`;

export const PLAN_FLAGS: Flags = {
  sides: { value: "SIDES", help: "the sides in their order, as left,right: each next set is of the next one" },
  ...flagsOf({ ...LOSS, exercise, style, intent }),
  setup: { value: "NOTES", help: "how they are set up, as seat=4,pin=7; pin= takes that note away" },
  ...flagsOf(OF_ALL),
  ...flagsOf(OPTIONS),
  side: { value: SIDES.join("|"), help: "what else is said holds for this side only" },
  clear: { value: "NAMES", help: `what the plan is not to say any more, of ${CLEARABLE}` },
  remove: { help: "take the whole plan away" },
  ...flagsOf(BY),
};

export type ReadChanges = { readonly args: ArgsOf<"plan-save"> } | Failure | null;

/** null: nothing is to change. */
export function changesOf(flags: FlagValues, who: { readonly station: string; readonly trainee: string }): ReadChanges {
  const said = Object.keys(PLAN_FLAGS).filter((name) => flags[name] !== undefined);
  if (said.length === 0) return null;
  const fault = clashOf(flags, said);
  if (fault !== null) return wrongUsage(fault);
  if (flags["remove"] === true) return argsOf("plan-save", BY, flags, { ...who, remove: true });
  const sides = textOf(flags, "sides");
  const setup = notesOf(textOf(flags, "setup"));
  if (setup === "unreadable") return wrongUsage("--setup takes notes as seat=4,pin=7");
  const given = {
    ...who,
    ...cleared(clearOf(flags)),
    ...(sides === undefined ? {} : { sides: sides.split(",") }),
    ...(setup === null ? {} : { setup }),
    ...(flags["warm-ups"] === undefined ? {} : { warm_up: { fatigue_threshold: null } }),
  };
  const read = argsOf("plan-save", { ...OF_A_SIDE, ...OF_ALL, ...BY }, flags, given);
  const side = textOf(flags, "side");
  if ("exit" in read || side === undefined) return read;
  const { station, trainee, performed_by, ...changes } = read.args;
  const by_side = { [side as Side]: changes };
  return { args: { station, trainee, by_side, ...(performed_by === undefined ? {} : { performed_by }) } };
}

const clearOf = (flags: FlagValues): readonly string[] => textOf(flags, "clear")?.split(",") ?? [];

function cleared(names: readonly string[]): Record<string, unknown> {
  const given: Record<string, unknown> = {};
  for (const name of names) {
    const { field = "", to = null } = clears(name) ?? {};
    const [first = "", second] = field.split(".");
    given[first] = second === undefined ? to : { ...(given[first] as object | undefined), [second]: to };
  }
  return given;
}

/** Why the flags cannot all be meant; null: they can. */
function clashOf(flags: FlagValues, said: readonly string[]): string | null {
  const others = said.filter((name) => !["side", "performed-by"].includes(name));
  if (others.length === 0) return `--${said[0]} goes with something to save`;
  if (flags["remove"] === true && (others.length > 1 || flags["side"] !== undefined)) return "--remove stands alone";
  const clear = clearOf(flags);
  const stranger = clear.find((name) => clears(name) === undefined);
  if (stranger !== undefined) return `--clear takes some of ${CLEARABLE}, not ${stranger}`;
  const both = clear.find((name) => flags[name] !== undefined || (name === "options" && someOption(flags, clear)));
  if (both !== undefined) return `--${both} and --clear ${both} cannot both be meant`;
  if (flags["warm-up-loss"] !== undefined && flags["warm-ups"] === undefined)
    return "--warm-up-loss goes with --warm-ups";
  const side = textOf(flags, "side");
  if (side === undefined) return null;
  if (!(SIDES as readonly string[]).includes(side)) return `--side takes ${SIDES.join("|")}, not ${side}`;
  const ofAll =
    others.find((name) => name !== "clear" && name !== "setup" && !Object.hasOwn(OF_A_SIDE, name)) ??
    clear.find((name) => clears(name)?.of_a_side !== true);
  return ofAll === undefined ? null : `--${ofAll} is the same on every side: leave --side out`;
}

const someOption = (flags: FlagValues, clear: readonly string[]): boolean =>
  Object.keys(OPTIONS).some((name) => flags[name] !== undefined || clear.includes(name));

function notesOf(typed: string | undefined): Record<string, string | null> | "unreadable" | null {
  if (typed === undefined) return null;
  const notes = typed.split(",").map((note) => /^\s*([^=]*?)\s*=\s*(.*?)\s*$/.exec(note));
  if (notes.some((note) => note === null || note[1] === "")) return "unreadable";
  return Object.fromEntries(
    notes.map((note) => [note?.[1] as string, note?.[2] === "" ? null : (note?.[2] as string)]),
  );
}
