/** Which sets are meant: the flags that choose among the kept ones, as `sets` takes them. */
import { SIDES, STYLES } from "../../protocol/vocabulary.ts";
import { type Call, type Failure, type Flags, textOf, wrongUsage } from "./command.ts";
import { argsOf, type Fields, flagsOf } from "./fields.ts";
import type { House } from "./quantities.ts";
import { PAGE_SETS } from "./set-pages.ts";
import { DAYS, daysToInstants } from "./typed-days.ts";

const CHOICE: Fields = {
  station: { field: "station", kind: "text", value: "STATION", help: "only of this station" },
  trainee: { field: "trainee", kind: "text", value: "CODE", help: "only of this trainee" },
  side: { field: "side", kind: "text", value: SIDES.join("|"), help: "only of this side" },
  style: { field: "style", kind: "text", value: STYLES.join("|"), help: "only of this style" },
  exercise: { field: "exercise", kind: "text", value: "NAME", help: "only of this exercise" },
  ...DAYS,
};
const LIMIT: Fields = { limit: { field: "limit", kind: "number", value: "N", help: "at most so many, the newest" } };

const DAY = "day";

export const CHOICE_FLAGS: Flags = {
  ...flagsOf(CHOICE),
  [DAY]: { value: "DAY", help: "only of this day, as 2026-11-24" },
  ...flagsOf(LIMIT),
};

export interface Chosen {
  /** What `sets` takes, without a limit. */
  readonly args: object;
  /** null: all that fit. */
  readonly limit: number | null;
}

/** Whether anything is chosen at all. */
export const choosesSets = ({ flags }: Call): boolean =>
  Object.keys(CHOICE_FLAGS).some((name) => flags[name] !== undefined);

export function chosenSets(call: Call, house: House): Chosen | Failure {
  const day = textOf(call.flags, DAY);
  if (day !== undefined) {
    if (!isDay(day)) return wrongUsage(`--${DAY} takes a day such as 2026-11-24, not ${day}`);
    if (call.flags["from"] !== undefined || call.flags["to"] !== undefined) {
      return wrongUsage(`--${DAY} is a whole day: leave out --from and --to`);
    }
  }
  const typed = Number(textOf(call.flags, "limit"));
  // A page holds no more than the verb allows; who asks for more gets several.
  const many = Number.isInteger(typed) && typed > PAGE_SETS;
  const flags = {
    ...call.flags,
    ...(day === undefined ? {} : { from: day, to: day }),
    ...(many ? { limit: String(PAGE_SETS) } : {}),
  };
  const read = argsOf("sets", { ...CHOICE, ...LIMIT }, daysToInstants({ ...call, flags }, house).flags, {});
  if ("exit" in read) return read;
  const { limit, ...args } = read.args;
  return { args, limit: call.flags["limit"] === undefined ? null : many ? typed : limit };
}

/** A day of the calendar; 2026-02-30 is none. */
export function isDay(typed: string): boolean {
  if (!/^\d{4}-\d{2}-\d{2}$/.test(typed)) return false;
  const at_ms = Date.parse(`${typed}T00:00:00Z`);
  return !Number.isNaN(at_ms) && new Date(at_ms).toISOString().startsWith(typed);
}
