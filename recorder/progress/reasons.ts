/** Why something is advised, in whole sentences with their figures; percent first, since forces are shown in the unit of the house elsewhere. */
import type { Change } from "../../protocol/requests/trend.ts";
import type { Expected } from "./expected.ts";
import type { Rules } from "./rules.ts";
import type { Day } from "./series.ts";

const percent = (fraction: number, digits = 0): string => `${(100 * fraction).toFixed(digits)} %`;
const newtons = (force_N: number): string => `${Math.round(force_N)} N`;
const days = (count: number): string => (count === 1 ? "one comparable day" : `${count} comparable days`);
const since = (list: readonly Day[]): string => list[0]?.day ?? "";

/** What no rule can know. */
export const LIMITS: readonly string[] = [
  "That sets end at a loss is established practice; how large a loss serves best is shown for the speed of lifting, not for force.",
  "It sees one station's figures: not pain that nobody said, not technique, sleep or other training.",
  "The trainer decides.",
];

export const noDays = (): string => "There is no comparable set yet.";
export const tooFew = (list: readonly Day[], needed: number): string =>
  `There are ${days(list.length)} since ${since(list)}, and it takes ${needed}.`;

export const held = (): string =>
  "The sets are held below the most on purpose, so their loss says nothing of the next dose.";
export const noThreshold = (): string => "Force shows no loss of strength here, so there is no threshold to advise on.";
export const endedForPain = (day: string): string =>
  `A set of ${day} was ended for pain: that is for people to judge, not for a rule.`;
export const pain = (day: string, of_ten: number): string =>
  `Pain of ${of_ten} of 10 was said on ${day}: that is for people to judge, not for a rule.`;
export const away = (day: string, today: string): string =>
  `The last comparable set was on ${day}, long before ${today}: begin with care, and the record begins anew.`;
export const newSetup = (from: string, count: number, needed: number): string =>
  `The setup is another one since ${from}: ${days(count)} with it, and it takes ${needed}.`;
export const backAgain = (from: string, count: number, needed: number): string =>
  `After a long break it begins anew on ${from}: ${days(count)} since, and it takes ${needed}.`;

export const planChanged = (meant: number, threshold: number | null): string =>
  `The plan says ${percent(meant)} by now, and the newest set was to ${threshold === null ? "no loss" : percent(threshold)}: see how it goes.`;
export const newDose = (list: readonly Day[], { least_days, least_dose_days }: Rules): string =>
  `This threshold is new: ${days(list.length)} with it since ${since(list)}, and it takes ${least_days} over ${least_dose_days} days or more to see what it does.`;
export const noImprovement = (list: readonly Day[]): string =>
  `Over ${days(list.length)} at this threshold since ${since(list)} nothing has got better by more than chance, or not at two visits in a row.`;

const FIGURE_NAMES: Readonly<Record<Change["figure"], string>> = {
  best_force_N: "Best",
  impulse_N_s: "Impulse to the same loss",
  duration_s: "Duration to the same loss",
  mean_force_N: "Mean force to the same loss",
};
const FIGURE_UNITS: Readonly<Record<Change["figure"], string>> = {
  best_force_N: "N",
  impulse_N_s: "N s",
  duration_s: "s",
  mean_force_N: "N",
};

export function improvement(change: Change, list: readonly Day[], visits: number): string {
  const { figure, from_value, to_value, from_days, to_days, minimal_detectable_change } = change;
  const unit = FIGURE_UNITS[figure];
  const from = `${Math.round(from_value)} ${unit} (the first ${from_days} days, from ${since(list)})`;
  const to = `${Math.round(to_value)} ${unit} (the newest ${to_days})`;
  const beyond = `more than the ${percent(minimal_detectable_change, 1)} that chance and measurement make`;
  return `${FIGURE_NAMES[figure]} rose by ${percent(change.change, 1)} at this threshold, from ${from} to ${to}: ${beyond}, at ${visits} visits in a row.`;
}

export const stepDown = (from: number, to: number): string =>
  `The dose has done its work: a loss of ${percent(to)} instead of ${percent(from)} costs less, and may do.`;
export const lowestThreshold = (least: number): string =>
  `The threshold is at ${percent(least)} already, and none lower is advised.`;

export const below = ({ best_N, expected_N, least_N }: Expected, day: string): string =>
  `Best of ${day} was ${percent(1 - best_N / expected_N)} below what the record predicts: ${newtons(best_N)} instead of ${newtons(expected_N)}, and chance alone would hardly go under ${newtons(least_N)}.`;
export const shortRest = (rested_s: number, planned_s: number): string =>
  `They had rested ${Math.round(rested_s)} s, and the plan says ${planned_s} s.`;
export const dayAfter = (since_days: number): string =>
  since_days === 1 ? "It was the day after the last visit." : "It was the same day as the visit before.";
export const easeOff = (): string =>
  "Rest before it was as usual, as far as is known: they may be tired, unwell or short of recovery. Fewer sets, or another day.";
