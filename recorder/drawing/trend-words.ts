/** What is written over and beside the drawing of a trend, and said of it elsewhere. */
import type { Change, Figure, Trend, TrendDay, TrendResult } from "../../protocol/requests/trend.ts";
import { sayInstant } from "./instants.ts";
import { type House, sayForce, sayPercent, saySeconds } from "./quantities.ts";

/** Whose trend it is. */
export type Whose = Pick<TrendResult, "station" | "trainee">;

const NAMES: Readonly<Record<Figure, string>> = {
  best_force_N: "best",
  impulse_N_s: "impulse",
  duration_s: "duration",
  mean_force_N: "mean force",
};
export const figureName = (figure: Figure): string => NAMES[figure];

export function sayFigure(figure: Figure, value: number, house: House): string {
  if (figure === "duration_s") return saySeconds(value);
  return figure === "impulse_N_s" ? `${sayForce(value, house, 0)} s` : sayForce(value, house);
}

/** With its sign: a rise must not be taken for a level. */
export const sayChange = (change: number): string => `${change > 0 ? "+" : ""}${sayPercent(change, 1)}`;

export function trendTitle({ exercise_label, side, style, intent }: Trend, { trainee }: Whose): string {
  const which = side === null ? "" : `, ${side}`;
  return `${exercise_label}${which}, ${style}${intent === "held" ? ", held on purpose" : ""}: ${trainee}`;
}

/** Notes as they were put down, by name. */
export const saySetup = (setup: Trend["setup"]): string =>
  Object.keys(setup)
    .sort()
    .map((name) => `${name} ${String(setup[name])}`)
    .join(", ");

/** Which days, and of what setup. */
export function trendLines({ days, more, setup, days_of_other_setup }: Trend): readonly string[] {
  const [first] = days;
  const last = days.at(-1);
  if (first === undefined || last === undefined) return ["no comparable set is kept yet"];
  const notes = saySetup(setup);
  const others = days_of_other_setup;
  const about = [
    ...(notes === "" ? [] : [`setup: ${notes}`]),
    ...(others === 0 ? [] : [`${countOf(others, "day")} of another setup left out`]),
  ];
  return [
    ...(days.some(({ simulated }) => simulated) ? [SIMULATED] : []),
    [
      first === last ? first.day : `${first.day} to ${last.day}`,
      `${countOf(days.length, "day")}, the first comparable set of each`,
      ...(more ? ["there are earlier ones"] : []),
    ].join("; "),
    ...(about.length === 0 ? [] : [about.join("; ")]),
  ];
}

const SIMULATED = "simulated: nobody trained, this is the program's own gym";

export const countOf = (count: number, what: string): string => `${count} ${what}${count === 1 ? "" : "s"}`;

/** One sentence. */
export function changeSentence(found: Change, house: House): string {
  const { figure, from_value, from_days, to_value, to_days, change, is_real, at_threshold } = found;
  const at = at_threshold === null ? "" : `, compared at a loss of ${sayPercent(at_threshold)}`;
  const values = `${sayFigure(figure, from_value, house)} to ${sayFigure(figure, to_value, house)}`;
  const means =
    from_days === 1 && to_days === 1
      ? "single days"
      : `means of ${from_days} early and ${countOf(to_days, "late day")}`;
  const least = sayPercent(found.minimal_detectable_change, 1);
  const verdict = is_real
    ? `more than the ${least} that measurement error explains, so it is real`
    : `no more than the ${least} that measurement error explains, so it is not called a change`;
  const worth = is_real && !found.is_worthwhile ? ", though too small to matter" : "";
  const scale = found.calibration_changed ? "; the calibration changed in between, and is allowed for" : "";
  return `${figureName(figure)} ${values} (${means}${at}), ${sayChange(change)}: ${verdict}${worth}${scale}.`;
}

/** What is to be seen in it, for who cannot. */
export function trendTold(trend: Trend, whose: Whose, house: House): string {
  const values = trend.days.map((day) => `${day.day} ${sayForce(day.best_force_N, house)}${remarksOf(day)}`);
  const shown =
    values.length <= 12 ? values : [...values.slice(0, 3), `${values.length - 9} more`, ...values.slice(-6)];
  const found = trend.changes.map((change) => changeSentence(change, house));
  return [
    `Best in ${house.unit} against the day, at ${whose.station}. ${trendLines(trend).join(". ")}.`,
    `${shown.join("; ")}.`,
    ...found,
  ]
    .filter((said) => said !== ".")
    .join(" ");
}

function remarksOf({ best_unconfirmed, pain, new_calibration }: TrendDay): string {
  const said = [
    ...(best_unconfirmed ? ["unconfirmed"] : []),
    ...(pain !== null && pain > 0 ? [`pain ${pain}`] : []),
    ...(new_calibration ? ["new calibration"] : []),
  ];
  return said.length === 0 ? "" : ` (${said.join(", ")})`;
}

export const dayOf = (at_ms: number, { time_zone }: House): string =>
  sayInstant(new Date(at_ms).toISOString(), time_zone).slice(0, 10);
