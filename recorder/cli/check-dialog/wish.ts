/** What the flags of `check-loads` ask for, or what is wrong with them. */

import { instantOf } from "../../drawing/instants.ts";
import { type Failure, type Flags, type FlagValues, textOf, wrongUsage } from "../command.ts";
import { argsOf, BY, type Fields, flagsOf } from "../fields.ts";
import { LOAD_FLAGS } from "../load-flags.ts";
import type { House } from "../quantities.ts";
import { readLoads, WHERE } from "./loads.ts";
import { type CheckStep, type PlannedLoad, planOf, quickPlan } from "./plan.ts";

export const WISH_FLAGS: Flags = {
  loads: { value: "LIST", help: 'what is hung in all, as "10 kg, 20 kg"; in kg, g, lb, N, kN, kgf or lbf' },
  quick: { value: "LOAD", help: "one known load, a minute in all: is it within 2 %?" },
  series: { value: "1..3", help: "how often to go through the loads, else once" },
  "up-only": { help: "not down through the loads again" },
  "tolerance-percent": { value: "PERCENT", help: "how well the loads are known" },
  "mass-class": LOAD_FLAGS["mass-class"]!,
  ...flagsOf(WHERE),
  "performed-by": { value: "CODE", help: "who checks: a code, stored" },
  note: { value: "TEXT", help: "kept with the check" },
  due: { value: "DAY", help: "when it is to be done again, as 2027-05-25" },
  yes: { help: "ask nothing: the loads are changed by a rig, within the first seconds of each step" },
  last: { help: "the report of the newest kept check, or of the record in force; nothing is hung" },
};
const LAST_TAKES = new Set(["last", "sheet", "text", "json", "config", "socket", "debug"]);
const ACCEPT: Fields = {
  note: { field: "note", kind: "text", help: "" },
  due: { field: "due", kind: "text", help: "" },
};

export interface Wish {
  /** null: not said yet; whoever sits here is asked. */
  readonly plan: readonly CheckStep[] | null;
  /** The plan of loads that are said later. */
  readonly planFor: (loads: readonly PlannedLoad[]) => readonly CheckStep[];
  readonly quick: boolean;
  readonly yes: boolean;
  readonly performed_by: string | undefined;
  readonly accept: { readonly note?: string; readonly due?: string };
}

/** Flags that stand beside `--last` and have nothing to do there; null: none. */
export function strangerToLast(flags: FlagValues): Failure | null {
  const strangers = Object.keys(flags).filter((name) => flags[name] !== undefined && !LAST_TAKES.has(name));
  return strangers.length === 0
    ? null
    : wrongUsage(`--last prints what is kept: leave out --${strangers.join(" and --")}`);
}

export function readWish(station: string, flags: FlagValues, house: House): Wish | Failure {
  const [typed, quickly, times] = [textOf(flags, "loads"), textOf(flags, "quick"), textOf(flags, "series")];
  const quick = quickly !== undefined;
  if (quick && (typed !== undefined || times !== undefined || flags["up-only"] === true)) {
    return wrongUsage("--quick is one load, once: leave out --loads, --series and --up-only");
  }
  if (times !== undefined && !/^[123]$/.test(times)) return wrongUsage(`--series takes 1, 2 or 3, not ${times}`);
  const yes = flags["yes"] === true;
  if (yes && !quick && typed === undefined)
    return wrongUsage("--yes asks nothing: say what is hung with --loads or --quick");
  const due = textOf(flags, "due");
  const given = due === undefined ? flags : { ...flags, due: instantOf(due, house.time_zone, "start") };
  // The verb's own schema judges what goes into it, before anybody hangs anything.
  const read = argsOf("calibration-accept", { ...ACCEPT, ...BY }, given, { station });
  if ("exit" in read) return read;
  const { note, due: until, performed_by } = read.args;
  const accept = { ...(note === undefined ? {} : { note }), ...(until === undefined ? {} : { due: until }) };
  const planFor = (loads: readonly PlannedLoad[]): readonly CheckStep[] =>
    planOf({ loads, series: Number(times ?? 1), up_only: flags["up-only"] === true });
  const wish = { planFor, quick, yes, performed_by, accept };
  const words = quickly ?? typed;
  if (words === undefined) return { ...wish, plan: null };
  const loads = readLoads(words, flags);
  if ("exit" in loads) return loads;
  const [only] = loads;
  if (!quick) return { ...wish, plan: planFor(loads) };
  return loads.length === 1 && only !== undefined
    ? { ...wish, plan: quickPlan(only) }
    : wrongUsage("--quick takes one load; --loads takes several");
}
