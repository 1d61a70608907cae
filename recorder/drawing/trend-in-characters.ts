/** A trend in a terminal: best over days, measurement error about the baseline, calibrations, thresholds where they change. */
import type { Trend } from "../../protocol/requests/trend.ts";
import { fromNewtons } from "../../protocol/units.ts";
import { ticks } from "./axis.ts";
import { framedCells, MARGIN, rowLabels, rowOfWords, SIGNS } from "./character-plot.ts";
import { type InCharacters, linesOf } from "./in-characters.ts";
import { type House, sayPercent } from "./quantities.ts";
import { timeTicks } from "./time-ticks.ts";
import {
  type Baseline,
  baselineOf,
  bestSeries,
  calibrationMoments_ms,
  type DayPoint,
  reachOf,
  spanOf,
  thresholdChanges,
} from "./trend-series.ts";

const ROWS = 12;
const DATE_COLUMNS = 13;

/** Two days in one place: what must not be missed goes before what is usual. */
const DAY = { usual: "o", unconfirmed: "?", pain: "!" } as const;

/** null: no day has a best. Lines without a line end at the last. */
export function trendInCharacters(trend: Trend, options: House & InCharacters): string | null {
  const series = bestSeries(trend);
  const { points } = series;
  if (points.length === 0) return null;
  const columns = Math.max(30, options.columns - MARGIN - 1);
  const [from_ms, to_ms] = spanOf(points);
  const baseline = baselineOf(trend, series);
  const [low, high] = reachOf([...points.map(({ value }) => value), ...edgesOf(baseline)]);
  const columnOf = (at_ms: number): number =>
    Math.min(columns - 1, Math.floor(((at_ms - from_ms) / (to_ms - from_ms)) * columns));
  const rowOf = (value: number): number =>
    Math.min(ROWS - 1, Math.max(0, Math.floor(((high - value) / (high - low)) * ROWS)));

  const { shade, upright } = SIGNS[options.characters];
  const cells = Array.from({ length: ROWS }, () => new Array<string>(columns).fill(" "));
  const [bottom, top] = edgesOf(baseline);
  if (bottom !== undefined && top !== undefined)
    for (let row = rowOf(top); row <= rowOf(bottom); row++) cells[row]!.fill(shade);
  for (const ms of calibrationMoments_ms(points)) for (const row of cells) row[columnOf(ms)] = upright;
  for (const sign of [DAY.usual, DAY.unconfirmed, DAY.pain]) {
    for (const point of points) if (signOf(point) === sign) cells[rowOf(point.value)]![columnOf(point.at_ms)] = sign;
  }
  const per_unit_N = 1 / fromNewtons(1, options.unit);
  const labels = rowLabels(
    ticks(low / per_unit_N, high / per_unit_N, 5).map((tick) => ({
      row: rowOf(tick * per_unit_N),
      text: String(tick),
    })),
  );
  const dates = timeTicks(from_ms, to_ms, options.time_zone, Math.floor(columns / DATE_COLUMNS));
  const losses = thresholdChanges(points).filter(({ day }) => day.fatigue_threshold !== null);
  return [
    ...linesOf(caption(points, baseline, options), options.columns - 1),
    ...framedCells({
      cells,
      labels,
      ticks: dates.map(({ at_ms, text }) => ({ column: columnOf(at_ms), text })),
      characters: options.characters,
    }),
    ...(losses.length === 0
      ? []
      : [
          `${"to loss".padEnd(MARGIN)}${rowOfWords(
            losses.map(({ at_ms, day }) => ({ column: columnOf(at_ms), text: sayPercent(day.fatigue_threshold) })),
            columns,
          )}`,
        ]),
  ].join("\n");
}

/** Low and high; none without a comparison. */
const edgesOf = (baseline: Baseline | null): readonly number[] => {
  if (baseline === null) return [];
  const { from_value, minimal_detectable_change } = baseline.change;
  return [from_value * (1 - minimal_detectable_change), from_value * (1 + minimal_detectable_change)];
};

function signOf({ day }: DayPoint): string {
  if (day.pain !== null && day.pain > 0) return DAY.pain;
  return day.best_unconfirmed ? DAY.unconfirmed : DAY.usual;
}

function caption(
  points: readonly DayPoint[],
  baseline: Baseline | null,
  { unit, characters }: House & InCharacters,
): readonly string[] {
  const signs = new Set(points.map(signOf));
  const { shade, upright } = SIGNS[characters];
  return [
    `best, ${unit} (not from 0)`,
    `${DAY.usual} a day's first set`,
    ...(signs.has(DAY.unconfirmed) ? [`${DAY.unconfirmed} unconfirmed`] : []),
    ...(signs.has(DAY.pain) ? [`${DAY.pain} pain`] : []),
    ...(baseline === null ? [] : [`${shade} measurement error about the baseline`]),
    ...(calibrationMoments_ms(points).length === 0 ? [] : [`${upright} another calibration`]),
  ];
}
