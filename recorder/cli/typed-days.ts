/** A stretch of time as people type it: `--from` and `--to`, days of the house or instants. */
import { instantOf } from "../drawing/instants.ts";
import { type Call, textOf } from "./command.ts";
import type { Fields } from "./fields.ts";
import type { House } from "./quantities.ts";

export const DAYS: Fields = {
  from: {
    field: "from",
    kind: "text",
    value: "DAY",
    help: "from this day on, as 2026-11-24, or from an ISO 8601 instant",
  },
  to: { field: "to", kind: "text", value: "DAY", help: "up to this day, itself included, or to an instant" },
};

/** The call as the verb takes it. */
export function daysToInstants(call: Call, { time_zone }: House): Call {
  const from = textOf(call.flags, "from");
  const to = textOf(call.flags, "to");
  return {
    ...call,
    flags: {
      ...call.flags,
      from: from === undefined ? undefined : instantOf(from, time_zone, "start"),
      to: to === undefined ? undefined : instantOf(to, time_zone, "end"),
    },
  };
}
