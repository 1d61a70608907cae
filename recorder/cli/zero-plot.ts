/**
 * The zero over days as one SVG that needs nothing else. Tracked drift is a line; a zero somebody asked for is a filled dot,
 * one that was put back because a hand was on the lever a hollow square; another calibration a broken vertical line. Told
 * apart by shape and dash alone, so that grey paper will do.
 */
import { fromNewtons } from "../../protocol/units.ts";
import { at, ticks } from "../drawing/axis.ts";
import { escaped } from "../drawing/escaped.ts";
import { sayInstant } from "../drawing/instants.ts";
import { timeTicks } from "../drawing/time-ticks.ts";
import { sayForce } from "./quantities.ts";
import {
  LARGEST_SHIFT,
  TRACKED_SHIFT,
  type ZeroEntry,
  type ZeroPlotOptions,
  type ZeroPoint,
  type ZeroTrace,
  zeroTrace,
} from "./zero-trace.ts";

export type { ZeroEntry, ZeroPlotOptions } from "./zero-trace.ts";

const WIDTH = 800;
const HEIGHT = 360;
const PANEL = { left: 64, right: 776, top: 40, bottom: 292 } as const;
const TIME_TICKS = 8;
const FORCE_TICKS = 6;
/** Never narrower than this share of capacity: a hundredth of a newton must not look like much. */
const LEAST_REACH = 0.001;
const ROOM = 0.08;
/** With so few points each save shows. */
const DOTTED = 100;
/** A limit is drawn once the zero has come more than half the way to it. */
const NEAR = 0.5;

interface Limit {
  readonly force_N: number;
  readonly from_ms: number;
  readonly text: string;
  readonly dash: string;
}

interface Axes {
  readonly x: (at_ms: number) => number;
  readonly y: (force_N: number) => number;
}

/** Of a station without a zero: an SVG that says so. */
export function zeroPlot(zeros: readonly ZeroEntry[], options: ZeroPlotOptions): string {
  const trace = zeroTrace(zeros, options);
  if (trace === null) return framed("No zero has been saved here yet.", noZero());
  const limits = limitsOf(trace, options.capacity_N);
  const [low_N, high_N] = reachOf(trace, limits, options.capacity_N);
  const axes: Axes = {
    x: (ms) => PANEL.left + ((PANEL.right - PANEL.left) * (ms - trace.from_ms)) / (trace.to_ms - trace.from_ms),
    y: (N) => PANEL.bottom - ((PANEL.bottom - PANEL.top) * (N - low_N)) / (high_N - low_N),
  };
  const date = (ms: number): string => sayInstant(new Date(ms).toISOString(), options.time_zone).slice(0, 10);
  const last = trace.points.at(-1) as ZeroPoint;
  const label =
    `Zero over time in ${options.unit}, ${date(trace.from_ms)} to ${date(trace.to_ms)}; ` +
    `${sayForce(last.shift_N, options)} from the calibrated zero at the end`;
  return framed(
    label,
    calibrations(trace, axes) +
      forceAxis(low_N, high_N, axes, options) +
      limits.map((limit) => limitLine(limit, axes)).join("") +
      timeAxis(trace, axes, options) +
      line(trace.points, axes) +
      marks(trace.points, axes, options) +
      legend(trace),
  );
}

const framed = (label: string, inside: string): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escaped(label)}" ` +
  `font-family="sans-serif" font-size="12"><rect width="${WIDTH}" height="${HEIGHT}" fill="#fff"/>${inside}</svg>`;

const noZero = (): string =>
  `<text x="${WIDTH / 2}" y="${HEIGHT / 2}" text-anchor="middle">No zero has been saved here yet.</text>`;

/** Those of the calibrated zero hold all along, those of tracking from the last asked zero on. */
function limitsOf({ points, from_ms, asked }: ZeroTrace, capacity_N: number): readonly Limit[] {
  const reached = (limit_N: number, from_N: number, since_ms: number): boolean =>
    points.some(
      ({ at_ms, shift_N }) => at_ms >= since_ms && Math.sign(limit_N) * (shift_N - from_N) > NEAR * Math.abs(limit_N),
    );
  return [1, -1].flatMap((sign) => {
    const largest_N = sign * LARGEST_SHIFT * capacity_N;
    const tracked_N = sign * TRACKED_SHIFT * capacity_N;
    const from_N = asked?.shift_N ?? 0;
    const since_ms = asked?.at_ms ?? from_ms;
    const found: Limit[] = [];
    if (reached(largest_N, 0, from_ms)) {
      found.push({ force_N: largest_N, from_ms, text: "4 % of capacity from the calibrated zero", dash: "8 4" });
    }
    if (reached(tracked_N, from_N, since_ms)) {
      const text = asked === null ? "2 % of capacity: as far as tracking goes" : "2 % from the last asked zero";
      found.push({ force_N: from_N + tracked_N, from_ms: since_ms, text, dash: "2 3" });
    }
    return found;
  });
}

function reachOf({ points }: ZeroTrace, limits: readonly Limit[], capacity_N: number): readonly [number, number] {
  const forces = [0, ...points.map(({ shift_N }) => shift_N), ...limits.map(({ force_N }) => force_N)];
  const low_N = forces.reduce((least, force_N) => Math.min(least, force_N));
  const high_N = forces.reduce((most, force_N) => Math.max(most, force_N));
  const lacking_N = Math.max(0, 2 * LEAST_REACH * capacity_N - (high_N - low_N)) / 2;
  const room_N = lacking_N + ROOM * (high_N - low_N);
  return [low_N - room_N, high_N + room_N];
}

function limitLine({ force_N, from_ms, text, dash }: Limit, { x, y }: Axes): string {
  const level = at(y(force_N));
  return (
    `<line x1="${at(x(from_ms))}" x2="${PANEL.right}" y1="${level}" y2="${level}" stroke="#555" stroke-dasharray="${dash}"/>` +
    `<text x="${PANEL.right - 4}" y="${at(y(force_N) - 4)}" text-anchor="end" fill="#333">${escaped(text)}</text>`
  );
}

function forceAxis(low_N: number, high_N: number, { y }: Axes, options: ZeroPlotOptions): string {
  const { unit } = options;
  const per_unit_N = 1 / fromNewtons(1, unit);
  const marked = ticks(low_N / per_unit_N, high_N / per_unit_N, FORCE_TICKS).map((tick) => {
    const level = at(y(tick * per_unit_N));
    const grid = `<line x1="${PANEL.left}" x2="${PANEL.right}" y1="${level}" y2="${level}" stroke="${tick === 0 ? "#000" : "#ddd"}"/>`;
    return `${grid}<text x="${PANEL.left - 6}" y="${at(y(tick * per_unit_N) + 4)}" text-anchor="end">${tick}</text>`;
  });
  const { left, right, top, bottom } = PANEL;
  return (
    marked.join("") +
    `<rect x="${left}" y="${top}" width="${right - left}" height="${bottom - top}" fill="none" stroke="#000"/>` +
    `<text x="${left}" y="${top - 24}">zero from the calibrated one, ${escaped(unit)}</text>`
  );
}

function timeAxis({ from_ms, to_ms }: ZeroTrace, { x }: Axes, { time_zone }: ZeroPlotOptions): string {
  return timeTicks(from_ms, to_ms, time_zone, TIME_TICKS)
    .map(({ at_ms, text }) => {
      const across = at(x(at_ms));
      return (
        `<line x1="${across}" x2="${across}" y1="${PANEL.bottom}" y2="${PANEL.bottom + 5}" stroke="#000"/>` +
        `<text x="${across}" y="${PANEL.bottom + 18}" text-anchor="middle">${text}</text>`
      );
    })
    .join("");
}

function calibrations({ calibrated_ms }: ZeroTrace, { x }: Axes): string {
  return calibrated_ms
    .map((ms) => {
      const across = at(x(ms));
      return (
        `<line x1="${across}" x2="${across}" y1="${PANEL.top}" y2="${PANEL.bottom}" stroke="#000" stroke-dasharray="10 4 2 4"/>` +
        `<text x="${across}" y="${PANEL.top - 6}" text-anchor="middle">calibrated</text>`
      );
    })
    .join("");
}

/** Drift from save to save, a jump where somebody asked; what lies within half a pixel of the last is left out. */
function line(points: readonly ZeroPoint[], { x, y }: Axes): string {
  let path = "";
  let before: ZeroPoint | null = null;
  let drawn_x = Number.NEGATIVE_INFINITY;
  for (const [index, point] of points.entries()) {
    const tracked = point.cause === "tracked";
    const across = x(point.at_ms);
    const next = points[index + 1];
    const last = next === undefined || next.cause !== "tracked" || next.calibration_id !== point.calibration_id;
    const same = before?.calibration_id === point.calibration_id;
    if (same && tracked && !last && across - drawn_x < 0.5) continue;
    if (!same) path += `M${at(across)} ${at(y(point.shift_N))}`;
    else if (tracked) path += `L${at(across)} ${at(y(point.shift_N))}`;
    else path += `H${at(across)}V${at(y(point.shift_N))}`;
    before = point;
    drawn_x = across;
  }
  // Where it stands since.
  return `<path d="${path}H${PANEL.right}" fill="none" stroke="#000" stroke-width="1.5" stroke-linejoin="round"/>`;
}

function marks(points: readonly ZeroPoint[], { x, y }: Axes, options: ZeroPlotOptions): string {
  return points
    .filter(({ cause }) => cause !== "tracked" || points.length <= DOTTED)
    .map(({ at_ms, shift_N, cause, performed_by }) => {
      const who = performed_by === null ? "" : ` by ${performed_by}`;
      const when = sayInstant(new Date(at_ms).toISOString(), options.time_zone);
      const title = escaped(`${cause}${who}, ${when}: ${sayForce(shift_N, options)}`);
      return `<g><title>${title}</title>${shape(x(at_ms), y(shift_N), cause)}</g>`;
    })
    .join("");
}

function shape(x: number, y: number, cause: string): string {
  if (cause === "tracked") return `<circle cx="${at(x)}" cy="${at(y)}" r="1.5"/>`;
  return cause === "restored"
    ? `<rect x="${at(x - 4.5)}" y="${at(y - 4.5)}" width="9" height="9" fill="#fff" stroke="#000" stroke-width="1.5"/>`
    : `<circle cx="${at(x)}" cy="${at(y)}" r="4.5" fill="#000"/>`;
}

function legend({ points }: ZeroTrace): string {
  const y = HEIGHT - 18;
  const has = (cause: string): boolean => points.some((point) => point.cause === cause);
  const entries = [
    {
      shown: has("tracked"),
      sign: (x: number) => `<path d="M${x - 8} ${y - 4}h16" stroke="#000" stroke-width="1.5"/>`,
      text: "tracked",
    },
    { shown: has("asked"), sign: (x: number) => shape(x, y - 4, "asked"), text: "asked for" },
    { shown: has("restored"), sign: (x: number) => shape(x, y - 4, "restored"), text: "put back: a hand was on it" },
  ].filter(({ shown }) => shown);
  return entries
    .map(({ sign, text }, index) => {
      const x = PANEL.left + 8 + index * 120;
      return `${sign(x)}<text x="${x + 14}" y="${y}">${text}</text>`;
    })
    .join("");
}
