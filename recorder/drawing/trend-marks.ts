/** The marks in the drawing of a trend, and the key to them. */
import { at } from "./axis.ts";
import { escaped } from "./escaped.ts";
import { type House, sayPercent } from "./quantities.ts";
import { type LegendEntry, line, text, widthOf } from "./svg.ts";
import { type Baseline, calibrationMoments_ms, type DayPoint, type Series, thresholdChanges } from "./trend-series.ts";
import { figureName, sayFigure } from "./trend-words.ts";

export interface Panel {
  readonly series: Series;
  readonly baseline: Baseline | null;
  /** Drawn at each day; null: not drawn. */
  readonly typical_error: number | null;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  readonly low: number;
  readonly high: number;
  readonly x: (at_ms: number) => number;
  /** Of a value in the units of messages. */
  readonly y: (value: number) => number;
}

/** Where days lie closer than this, px, marks are smaller, or they would be one black band. */
const CLOSE = 12;

const circle = (x: number, y: number, hollow: boolean, radius = 4): string =>
  `<circle cx="${at(x)}" cy="${at(y)}" r="${radius}" fill="${hollow ? "#fff" : "#000"}" stroke="#000" stroke-width="1.3"/>`;
const painful = (x: number, y: number): string =>
  `<path d="M${at(x)} ${at(y - 9)}l9 15.5h-18z" fill="none" stroke="#000" stroke-width="1.6"/>`;

export function dayMark({ at_ms, value, day }: DayPoint, { series, x, y }: Panel, house: House): string {
  const hollow = series.figure === "best_force_N" && day.best_unconfirmed;
  const said = [
    `${day.day}: ${figureName(series.figure)} ${sayFigure(series.figure, value, house)}`,
    ...(hollow ? ["unconfirmed"] : []),
    ...(hurt(day.pain) ? [`pain ${day.pain}`] : []),
  ];
  const ring = hurt(day.pain) ? painful(x(at_ms), y(value)) : "";
  return `<g class="day"><title>${escaped(said.join(", "))}</title>${circle(x(at_ms), y(value), hollow, isClose(series.points, x) ? 2.2 : 4)}${ring}</g>`;
}

function isClose(points: readonly DayPoint[], x: Panel["x"]): boolean {
  const breadth = x(points.at(-1)?.at_ms ?? 0) - x(points[0]?.at_ms ?? 0);
  return points.length > 2 && breadth / (points.length - 1) < CLOSE;
}

export function errorBars({ series: { points }, typical_error, x, y }: Panel): string {
  if (typical_error === null) return "";
  return points
    .map(({ at_ms, value }) => errorBar(x(at_ms), y(value * (1 + typical_error)), y(value * (1 - typical_error))))
    .join("");
}

const errorBar = (x: number, high: number, low: number): string =>
  `<path class="typical-error" d="M${at(x - 4)} ${at(high)}h8M${at(x)} ${at(high)}V${at(low)}M${at(x - 4)} ${at(low)}h8" fill="none" stroke="#000"/>`;

const hurt = (pain: number | null): boolean => pain !== null && pain > 0;

/** In a row over the panel's lower edge, each from its first day on; what has no room is left to the tick. */
export function thresholds({ series: { points }, x, right, bottom }: Panel): string {
  const changed = thresholdChanges(points).filter(({ day }) => day.fatigue_threshold !== null);
  return changed.reduce<{ readonly svg: string; readonly to: number }>(
    ({ svg, to }, { at_ms, day }) => {
      const said = `to ${sayPercent(day.fatigue_threshold)}`;
      const across = x(at_ms);
      const tick = line(across, bottom, across, bottom - 8, { width: 1.6, of: "threshold" });
      const start = Math.min(across + 4, right - 4 - widthOf(said));
      return start < to
        ? { svg: svg + tick, to }
        : { svg: svg + tick + text(start, bottom - 5, said), to: start + widthOf(said) + 4 };
    },
    { svg: "", to: 0 },
  ).svg;
}

export function keyOf({ series: { points }, baseline, typical_error }: Panel): readonly LegendEntry[] {
  const days = points.map(({ day }) => day);
  const entry = (wanted: boolean, sample: LegendEntry["sample"], said: string): readonly LegendEntry[] =>
    wanted ? [{ sample, text: said }] : [];
  return [
    ...entry(true, (x, y) => circle(x, y, false), "a day's first set"),
    ...entry(
      days.some(({ best_unconfirmed }) => best_unconfirmed),
      (x, y) => circle(x, y, true),
      "best unconfirmed",
    ),
    ...entry(
      days.some(({ pain }) => hurt(pain)),
      (x, y) => painful(x, y),
      "pain said that day",
    ),
    ...entry(
      (baseline?.from.length ?? 0) > 0,
      (x, y) => line(x - 10, y, x + 10, y, { width: 4, colour: "#888" }),
      "means compared",
    ),
    ...entry(
      baseline !== null,
      (x, y) => `<rect x="${at(x - 10)}" y="${at(y - 6)}" width="20" height="12" fill="#e8e8e8" stroke="#aaa"/>`,
      "measurement error about the baseline",
    ),
    ...entry(typical_error !== null, (x, y) => errorBar(x, y - 6, y + 6), "typical error of one day"),
    ...entry(
      days.some(({ fatigue_threshold }) => fatigue_threshold !== null),
      (x, y) => line(x, y - 4, x, y + 4, { width: 1.6 }),
      "stop at a loss of so much",
    ),
    ...entry(
      calibrationMoments_ms(points).length > 0,
      (x, y) => line(x - 10, y, x + 10, y, { dash: "10 4 2 4" }),
      "another calibration",
    ),
  ];
}
