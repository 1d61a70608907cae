/** What a person sets right in a kept set, and what that changes of what was derived from the record of its day. Pure. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import { forceOut, fractionOut } from "../../protocol/units.ts";
import type { Before } from "../ports.ts";
import { lossSince, restedBefore } from "./set-message.ts";

/** Of what was asked, the fields that are not so already. */
export function changesOf(set: SetMessage, args: ArgsOf<"amend">): Partial<SetMessage> {
  const { set_id, performed_by, ...asked } = args;
  return Object.fromEntries(
    Object.entries(asked).filter(([name, value]) => value !== undefined && value !== set[name]),
  );
}

const OF_THE_DAY = ["trainee", "side", "warm_up", "void"] as const;

/** Whether the set stands elsewhere in the record of its day after these changes. */
export const movesInRecord = (changes: Partial<SetMessage>): boolean =>
  OF_THE_DAY.some((name) => Object.hasOwn(changes, name));

/**
 * What a set has from the record, for the set as amended; forces N, times s, losses 0..1. `before` is what the record
 * held of its trainee when it began; null: nobody is named. The best of a void set is nobody's best of the day.
 *
 * Other sets keep what was known when they were kept: what a trainer was shown then is not rewritten behind them.
 */
export function derivedFrom(
  set: SetMessage,
  before: Before | null,
): Pick<SetMessage, "set_of_day" | "rested_s" | "today_best_force_N" | "force_loss_today"> {
  const own_N = set.void ? null : set.best_force_N;
  const others_N = before?.today_best_force_N ?? null;
  const today_N = own_N === null || others_N === null ? (own_N ?? others_N) : Math.max(own_N, others_N);
  const compared = set.fatigue_threshold !== null;
  return {
    set_of_day: before?.set_of_day ?? null,
    rested_s: before === null ? null : restedBefore(before, set.started_at),
    today_best_force_N: forceOut(today_N),
    force_loss_today: compared ? fractionOut(lossSince(today_N, set.final_force_N)) : null,
  };
}
