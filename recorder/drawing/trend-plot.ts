/**
 * A trend as an SVG that needs nothing else: best over days, what measurement error alone explains as a grey band about the
 * baseline, thresholds where they change, calibrations as broken lines. Told apart by dash, filling and shape.
 */
import type { Trend, TrendResult } from "../../protocol/requests/trend.ts";
import { fromNewtons } from "../../protocol/units.ts";
import { at, ticks } from "./axis.ts";
import { type House, sayPercent } from "./quantities.ts";
import { asSvg, type Drawing, fitted, framed, GREY, GRID, legend, line, stacked, text, WIDTH, widthOf } from "./svg.ts";
import { timeTicks } from "./time-ticks.ts";
import { dayMark, errorBars, keyOf, type Panel, thresholds } from "./trend-marks.ts";
import {
  type Baseline,
  baselineOf,
  bestSeries,
  calibrationMoments_ms,
  type DayPoint,
  reachOf,
  type Series,
  secondSeries,
  spanOf,
} from "./trend-series.ts";
import { figureName, sayChange, trendLines, trendTitle, trendTold, type Whose } from "./trend-words.ts";

const LEFT = 76;
const RIGHT = 776;
/** Of the first panel, under so many lines of text. */
const TOP = (lines: number): number => 62 + 17 * lines;
const TALL = 220;
const GAP = 44;
const SECOND_TALL = 96;
const DATES = 7;
/** Of more days than this, error bars would be a thicket. */
const BARRED = 30;

/** Every trend of an answer, one under the other. Without any: one that says so. */
export function trendPlot(result: TrendResult, house: House): string {
  const drawings = result.trends.map((trend) => drawingOf(trend, result, house));
  const [first, ...more] = drawings;
  if (first === undefined) return asSvg(nothing(`${result.trainee} at ${result.station}`));
  return more.length === 0 ? asSvg(first) : stacked(`Trends of ${result.trainee} at ${result.station}`, drawings);
}

const NOTHING = "no comparable set is kept yet";

const nothing = (title: string): Drawing =>
  framed(
    { height: 120, title, told: `${title}: ${NOTHING}.`, lines: [], remarks: [] },
    text(WIDTH / 2, 74, NOTHING, { anchor: "middle" }),
  );

function drawingOf(trend: Trend, whose: Whose, house: House): Drawing {
  const best = bestSeries(trend);
  const title = trendTitle(trend, whose);
  if (best.points.length === 0) return nothing(title);
  const span_ms = spanOf(best.points);
  const second = secondSeries(trend);
  const baseline = baselineOf(trend, best);
  const lines = [...trendLines(trend), ...verdictOf(baseline)];
  const error = trend.errors.find(({ figure }) => figure === best.figure)?.typical_error ?? null;
  const first = panelOf(best, baseline, baseline === null ? error : null, span_ms, TOP(lines.length), TALL);
  // The days shown there end at one threshold; what is compared of that figure are curves up to it, of other days too.
  const panels =
    second === null ? [first] : [first, panelOf(second, null, null, span_ms, first.bottom + GAP, SECOND_TALL)];
  const bottom = panels.at(-1)!.bottom;
  const key = legend(keyOf(first), bottom + 44);
  return framed(
    {
      height: bottom + 36 + key.height,
      title,
      told: trendTold(trend, whose, house),
      lines,
      remarks: [],
    },
    panels.map((panel) => panelSvg(panel, house)).join("") +
      thresholds(first) +
      dates(span_ms, first.x, bottom, house) +
      key.svg,
  );
}

/** In short; the whole of it is in the description and on the command line. */
function verdictOf(baseline: Baseline | null): readonly string[] {
  if (baseline === null) return [];
  const { change, minimal_detectable_change, is_real } = baseline.change;
  const least = sayPercent(minimal_detectable_change, 1);
  return [
    is_real
      ? `best ${sayChange(change)}: real, measurement error explains ${least}`
      : `best ${sayChange(change)}: not called a change, measurement error explains ${least}`,
  ];
}

function panelOf(
  series: Series,
  baseline: Baseline | null,
  typical_error: number | null,
  [from_ms, to_ms]: readonly [number, number],
  top: number,
  tall: number,
): Panel {
  const change = baseline?.change;
  const about = (value: number, fraction: number): readonly number[] => [
    value * (1 - fraction),
    value * (1 + fraction),
  ];
  const edges =
    change === undefined ? [] : [...about(change.from_value, change.minimal_detectable_change), change.to_value];
  const shown_error = series.points.length > BARRED ? null : typical_error;
  const values = series.points.flatMap(({ value }) => about(value, shown_error ?? 0));
  const [low, high] = reachOf([...values, ...edges]);
  const bottom = top + tall;
  return {
    series,
    baseline,
    typical_error: shown_error,
    left: LEFT,
    right: RIGHT,
    top,
    bottom,
    low,
    high,
    x: (ms) => LEFT + ((RIGHT - LEFT) * (ms - from_ms)) / (to_ms - from_ms),
    y: (value) => bottom - (tall * (value - low)) / (high - low),
  };
}

function panelSvg(panel: Panel, house: House): string {
  const { series, top, bottom } = panel;
  return (
    band(panel) +
    valueAxis(panel, house) +
    calibrationMoments_ms(series.points)
      .map((ms) => line(panel.x(ms), top, panel.x(ms), bottom, { dash: "10 4 2 4", of: "calibrated" }))
      .join("") +
    means(panel) +
    joined(panel) +
    errorBars(panel) +
    series.points.map((point) => dayMark(point, panel, house)).join("")
  );
}

/** Inside it, a mean of as many days differs from the baseline by no more than measurement error explains. */
function band({ baseline, y }: Panel): string {
  if (baseline === null) return "";
  const { from_value, minimal_detectable_change } = baseline.change;
  const high = y(from_value * (1 + minimal_detectable_change));
  const low = y(from_value * (1 - minimal_detectable_change));
  return `<rect class="error-band" x="${LEFT}" y="${at(high)}" width="${RIGHT - LEFT}" height="${at(low - high)}" fill="#e8e8e8"/>`;
}

/** Thick over the days they are the mean of. */
function means({ baseline, x, y }: Panel): string {
  if (baseline === null) return "";
  const { change, from, to } = baseline;
  const mean = (of: string, value: number, points: readonly DayPoint[]): string =>
    points.length === 0
      ? ""
      : line(x(points[0]!.at_ms) - 7, y(value), x(points.at(-1)!.at_ms) + 7, y(value), {
          width: 4,
          colour: "#888",
          of,
        });
  return mean("baseline", change.from_value, from) + mean("recent", change.to_value, to);
}

function valueAxis({ series, low, high, top, bottom, y }: Panel, { unit }: House): string {
  const { figure, at_threshold } = series;
  const per = figure === "duration_s" ? 1 : 1 / fromNewtons(1, unit);
  const marked = ticks(low / per, high / per, bottom - top > 150 ? 6 : 4).map(
    (tick) =>
      line(LEFT, y(tick * per), RIGHT, y(tick * per), { colour: GRID }) +
      text(LEFT - 6, y(tick * per) + 4, String(tick), { anchor: "end" }),
  );
  const shown = figure === "duration_s" ? "s" : figure === "impulse_N_s" ? `${unit} s` : unit;
  const at_loss = at_threshold === null ? "" : ` of sets to a loss of ${sayPercent(at_threshold)}`;
  const from_zero = low > 0 ? " (the axis does not begin at 0)" : "";
  return (
    marked.join("") +
    `<rect x="${LEFT}" y="${top}" width="${RIGHT - LEFT}" height="${bottom - top}" fill="none" stroke="#000"/>` +
    text(12, top - 8, fitted(`${figureName(figure)}${at_loss}, ${shown}${from_zero}`, RIGHT - 12))
  );
}

/** Not across a calibration: part of the step there may be the scale's. */
function joined({ series: { points }, x, y }: Panel): string {
  const path = points
    .map(
      ({ at_ms, value, day }, index) =>
        `${index === 0 || day.new_calibration ? "M" : "L"}${at(x(at_ms))} ${at(y(value))}`,
    )
    .join("");
  return `<path d="${path}" fill="none" stroke="${GREY}"/>`;
}

function dates(
  [from_ms, to_ms]: readonly [number, number],
  x: Panel["x"],
  bottom: number,
  { time_zone }: House,
): string {
  return timeTicks(from_ms, to_ms, time_zone, DATES)
    .map(({ at_ms, text: said }) => {
      const middle = Math.min(x(at_ms), WIDTH - 6 - widthOf(said) / 2);
      return line(x(at_ms), bottom, x(at_ms), bottom + 5) + text(middle, bottom + 19, said, { anchor: "middle" });
    })
    .join("");
}
