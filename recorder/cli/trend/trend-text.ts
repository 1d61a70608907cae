/** A trend for a terminal: drawn, as a table of days, whether it is real, and the advice with its reasons first. */
import type { Advice, MeasurementError, Trend, TrendDay, TrendResult } from "../../../protocol/requests/trend.ts";
import type { InCharacters } from "../../drawing/in-characters.ts";
import { trendInCharacters } from "../../drawing/trend-in-characters.ts";
import { changeSentence, figureName, trendLines, trendTitle } from "../../drawing/trend-words.ts";
import { sentencesAt } from "../dialog/wrapped.ts";
import { type House, sayField, sayForce, sayPercent, saySeconds } from "../quantities.ts";
import { sayTable } from "../table.ts";

export interface TrendOptions extends House {
  readonly drawn: InCharacters;
  /** For sentences; null: nobody looks, and a line stays a line. */
  readonly columns: number | null;
}

/** Each trend in its turn. */
export function sayTrends(result: TrendResult, options: TrendOptions): string {
  if (result.trends.length === 0)
    return `no comparable set of ${result.trainee} is kept at ${result.station} yet that fits`;
  return result.trends.map((trend) => sayTrend(trend, result, options)).join("\n\n\n");
}

function sayTrend(trend: Trend, result: TrendResult, options: TrendOptions): string {
  const plot = trendInCharacters(trend, { ...options, ...options.drawn });
  const said = (lines: readonly string[]): string => sentencesAt(lines.join("\n"), options.columns);
  return [
    said([trendTitle(trend, result), ...trendLines(trend)]),
    ...(plot === null ? [] : [plot]),
    ...(trend.days.length === 0 ? [] : [sayDays(trend.days, options)]),
    said(isItReal(trend, options)),
    said(sayAdvice(trend.advice)),
  ].join("\n\n");
}

/** As much of an id as tells two sets of one minute apart; `show` takes it. */
const ID_CHARACTERS = 13;

function sayDays(days: readonly TrendDay[], house: House): string {
  const heads = ["day", "to", "time", "best", "loss", "impulse", "mean", "in efforts", "set", ""];
  const rows = days.map((day) => [
    day.day,
    sayPercent(day.fatigue_threshold),
    saySeconds(day.duration_s),
    sayForce(day.best_force_N, house, 0),
    sayPercent(day.force_loss),
    sayField("impulse_N_s", day.impulse_N_s, house),
    sayForce(day.mean_force_N, house, 0),
    sayForce(day.mean_effort_force_N, house, 0),
    day.set_id.slice(0, ID_CHARACTERS),
    remarks(day),
  ]);
  const table = sayTable([heads, ...rows], [1, 2, 3, 4, 5, 6, 7]);
  return days.some(({ best_unconfirmed }) => best_unconfirmed) ? `${table}\n${UNCONFIRMED}` : table;
}

const UNCONFIRMED = "best unconfirmed: no second effort came near it, so it counts as 1.1 times the second highest";

function remarks({ best_unconfirmed, pain, new_calibration, reached_threshold, fatigue_threshold }: TrendDay): string {
  return [
    ...(fatigue_threshold !== null && !reached_threshold ? ["threshold not reached"] : []),
    ...(best_unconfirmed ? ["best unconfirmed"] : []),
    ...(pain === null ? [] : [`pain ${pain}`]),
    ...(new_calibration ? ["another calibration"] : []),
  ].join(", ");
}

function isItReal({ changes, errors, smallest_worthwhile_change: least }: Trend, house: House): readonly string[] {
  const verdicts =
    changes.length === 0
      ? ["There are too few days to compare yet."]
      : changes.map((change) => changeSentence(change, house));
  return [
    "Is it real?",
    ...verdicts.map(asItem),
    ...errors.map((error) => asItem(errorSentence(error))),
    asItem(`A change of ${sayPercent(least.fraction, 1)} or more is worth having. ${least.source}`.trimEnd()),
  ];
}

function errorSentence({ figure, typical_error, minimal_detectable_change, source }: MeasurementError): string {
  return (
    `The typical error of one day's ${figureName(figure)} is ${sayPercent(typical_error, 1)}, so two single days must differ by more ` +
    `than ${sayPercent(minimal_detectable_change, 1)}. ${source}`
  );
}

const DECIDES = "The trainer decides.";

/** Reasons, what they come to, and what no advice can know. */
function sayAdvice(advice: Advice): readonly string[] {
  const limits = advice.limits.includes(DECIDES) ? advice.limits : [...advice.limits, DECIDES];
  return ["Advice", ...advice.reasons.map(asItem), `  So: ${advised(advice)}`, ...limits.map(asItem)];
}

const asItem = (sentence: string): string => `- ${sentence.slice(0, 1).toUpperCase()}${sentence.slice(1)}`;

function advised({ advice, fatigue_threshold }: Advice): string {
  const at = fatigue_threshold === null ? "" : `at a loss of ${sayPercent(fatigue_threshold)}`;
  switch (advice) {
    case "lower-threshold":
      return at === "" ? "stop at a smaller loss." : `stop earlier, ${at}.`;
    case "keep":
      return at === "" ? "keep on as it is." : `keep on as it is, and stop ${at}.`;
    case "longer-rest":
      return `rest longer before the next set or visit${at === "" ? "" : `, and stop ${at}`}.`;
    case "ease-off":
      return `ease off next time${at === "" ? "" : `, and stop ${at}`}.`;
    case "too-few-sets":
      return "too few sets for any advice.";
    case "none":
      return "no advice.";
  }
}
