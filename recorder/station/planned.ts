/**
 * A begin and the plan of whoever it is for: what is left out of the request comes from the plan's words for the side, then
 * from those for all sides; what neither says is the station's to say. Pure.
 */
import type { Plan, SetupNotes } from "../../protocol/requests/plan.ts";
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import type { Side } from "../../protocol/vocabulary.ts";
import type { SetOfToday } from "../record-ports.ts";

export interface Planned {
  readonly args: BeginArgs;
  /** How the trainee is to be set up; null: there is no plan. */
  readonly setup: SetupNotes | null;
  /** Between two sets, s; null: nobody decided. */
  readonly rest_s: number | null;
}

export const unplanned = (args: BeginArgs): Planned => ({ args, setup: null, rest_s: null });

/** `today`: this trainee's sets here, in their order. */
export function planned(args: BeginArgs, plan: Plan | null, today: readonly SetOfToday[]): Planned {
  if (plan === null) return unplanned(args);
  const side = args.side ?? nextSide(plan.sides, today);
  const own = side === undefined ? undefined : plan.by_side[side];
  const warm_up = args.warm_up ?? isWarmUp(plan, side, today);
  const fatigue_threshold =
    args.fatigue_threshold ??
    (warm_up ? plan.warm_up?.fatigue_threshold : null) ??
    own?.fatigue_threshold ??
    plan.fatigue_threshold;
  const options = { ...plan.options, ...own?.options, ...args.options };
  const said = {
    side,
    exercise: args.exercise ?? plan.exercise,
    style: args.style ?? plan.style,
    intent: args.intent ?? own?.intent ?? plan.intent,
    fatigue_threshold,
    warm_up,
    options: Object.keys(options).length === 0 ? null : options,
  };
  const given = Object.fromEntries(Object.entries(said).filter(([, value]) => value !== null && value !== undefined));
  return {
    args: { ...args, ...given },
    setup: { ...plan.setup, ...own?.setup },
    rest_s: plan.rest_s,
  };
}

/** The one after the last set's; the first one at the start of a day. */
function nextSide(sides: readonly Side[], today: readonly SetOfToday[]): Side | undefined {
  const last = today.findLast(({ side }) => side !== null && sides.includes(side))?.side ?? null;
  return sides[last === null ? 0 : (sides.indexOf(last) + 1) % sides.length];
}

/** Whoever has trained a side today is warm there, whatever those sets were. */
function isWarmUp({ warm_up }: Plan, side: Side | undefined, today: readonly SetOfToday[]): boolean {
  return warm_up !== null && today.filter((set) => set.side === (side ?? null)).length < warm_up.sets;
}

/** Where a trainee has rested less than their plan says, one sentence; never a refusal: it is the trainer who sees them. */
export function restWarning(
  { args, rest_s }: Planned,
  last_set_ended_at: string | null,
  now_ms: number,
): readonly string[] {
  if (rest_s === null || last_set_ended_at === null) return [];
  const rested_s = Math.floor((now_ms - Date.parse(last_set_ended_at)) / 1000);
  // A clock that was set back knows nothing of it.
  if (rested_s < 0 || rested_s >= rest_s) return [];
  return [`${args.trainee} has rested ${rested_s} s since the last set; the plan says ${rest_s} s.`];
}
