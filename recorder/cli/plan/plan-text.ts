/** A plan for people: one line for each thing that it says, and nothing for what it does not. */
import type { Plan, SidePlan } from "../../../protocol/requests/plan.ts";
import { SIDES } from "../../../protocol/vocabulary.ts";
import { type House, sayField, sayName, sayPercent } from "../quantities.ts";
import { sayTable } from "../table.ts";

export function sayPlan(plan: Plan, house: House): string {
  const saved = `saved ${sayField("saved_at", plan.saved_at, house)}${plan.performed_by === null ? "" : ` by ${plan.performed_by}`}`;
  const rows = [...linesOf(plan, house), ...SIDES.flatMap((side) => sideLines(side, plan.by_side[side], house))];
  return [`${plan.trainee} at ${plan.station}, ${saved}:`, sayTable(rows).replaceAll(/^/gm, "  ")].join("\n");
}

/** As a trainer reads it out: "seat 4, pin 7". */
export const sayNotes = (notes: Readonly<Record<string, string>>): string =>
  Object.entries(notes)
    .map(([name, value]) => `${name} ${value}`)
    .join(", ");

function linesOf(plan: Plan, house: House): string[][] {
  const { sides, exercise, style, warm_up, rest_s, note } = plan;
  return [
    ...(sides.length === 0 ? [] : [["sides", sides.join(", then ")]]),
    ...(exercise === null ? [] : [["exercise", exercise]]),
    ...(style === null ? [] : [["style", style]]),
    ...whatLines(plan, house),
    ...(warm_up === null ? [] : [["warm-ups", sayWarmUp(warm_up)]]),
    ...(rest_s === null ? [] : [["rest", `${rest_s} s between two sets`]]),
    ...(note === null ? [] : [["note", note]]),
  ];
}

const sideLines = (side: string, plan: SidePlan | undefined, house: House): string[][] =>
  plan === undefined ? [] : whatLines(plan, house).map(([name, value]) => [`${side}: ${name}`, value as string]);

/** What may be another on one side. */
function whatLines(plan: Pick<Plan, "fatigue_threshold" | "intent" | "setup" | "options"> | SidePlan, house: House) {
  const { fatigue_threshold = null, intent = null, setup = {}, options = {} } = plan;
  return [
    ...(intent === null ? [] : [["intent", intent]]),
    ...(fatigue_threshold === null ? [] : [["loss", `stop at ${sayPercent(fatigue_threshold)}`]]),
    ...(Object.keys(setup).length === 0 ? [] : [["setup", sayNotes(setup)]]),
    ...Object.entries(options).map(([name, value]) => [sayName(name), sayField(name, value, house)]),
  ];
}

function sayWarmUp({ sets, fatigue_threshold }: NonNullable<Plan["warm_up"]>): string {
  const first = sets === 1 ? "the first set" : `the first ${sets} sets`;
  const until = fatigue_threshold === null ? "" : `, to ${sayPercent(fatigue_threshold)} loss`;
  return `${first} of a day and side${until}`;
}
