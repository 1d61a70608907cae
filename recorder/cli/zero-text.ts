/** The zero over days for a terminal: a plot of 80 columns, and a table of the zeros that somebody asked for. */
import { fromNewtons } from "../../protocol/units.ts";
import { sayInstant } from "../drawing/instants.ts";
import { timeTicks } from "../drawing/time-ticks.ts";
import { sayForce } from "./quantities.ts";
import { sayTable } from "./table.ts";
import { pointAt, type ZeroEntry, type ZeroPlotOptions, type ZeroTrace, zeroTrace } from "./zero-trace.ts";

const WIDTH = 80;
const LABEL = 9;
const COLUMNS = WIDTH - LABEL - 2;
const ROWS = 11;
/** Columns that a date and the space beside it take. */
const DATE_COLUMNS = 12;
/** The table tells of the newest, as many as a glance takes. */
const TOLD = 12;
const LEAST_REACH = 0.001;

export function zeroText(zeros: readonly ZeroEntry[], options: ZeroPlotOptions): string {
  const trace = zeroTrace(zeros, options);
  if (trace === null) return "no zero has been saved here yet";
  return [...plot(trace, options), "", ...told(trace, options)].join("\n");
}

function plot(trace: ZeroTrace, options: ZeroPlotOptions): readonly string[] {
  const { points, from_ms, to_ms } = trace;
  const moment = (column: number): number => from_ms + ((to_ms - from_ms) * column) / COLUMNS;
  const columnOf = (at_ms: number): number =>
    Math.min(COLUMNS - 1, Math.floor((COLUMNS * (at_ms - from_ms)) / (to_ms - from_ms)));
  const forces = [0, ...points.map(({ shift_N }) => shift_N)];
  const low_N = forces.reduce((least, force_N) => Math.min(least, force_N));
  const reach_N = forces.reduce((most, force_N) => Math.max(most, force_N)) - low_N;
  const lacking_N = Math.max(0, 2 * LEAST_REACH * options.capacity_N - reach_N);
  const base_N = low_N - lacking_N / 2;
  const row_N = (reach_N + lacking_N) / (ROWS - 1);
  const rowOf = (force_N: number): number => ROWS - 1 - Math.round((force_N - base_N) / row_N);

  const cells = Array.from({ length: ROWS }, () => new Array<string>(COLUMNS).fill(" "));
  const put = (row: number, column: number, sign: string): void => {
    const line = cells[row];
    if (line !== undefined) line[column] = sign;
  };
  for (let column = 0; column < COLUMNS; column++) put(rowOf(0), column, "-");
  for (const at_ms of trace.calibrated_ms) for (let row = 0; row < ROWS; row++) put(row, columnOf(at_ms), "|");
  for (let column = 0; column < COLUMNS; column++) {
    const point = pointAt(points, moment(column + 1));
    if (point !== null) put(rowOf(point.shift_N), column, ".");
  }
  for (const { at_ms, shift_N, cause } of points) {
    if (cause !== "tracked") put(rowOf(shift_N), columnOf(at_ms), cause === "restored" ? "x" : "o");
  }
  const label = (row: number): string => {
    if (row !== 0 && row !== rowOf(0) && row !== ROWS - 1) return "";
    const shown = fromNewtons(base_N + (ROWS - 1 - row) * row_N, options.unit);
    return row === rowOf(0) ? "0" : shown.toFixed(1);
  };
  return [
    `zero from the calibrated one, ${options.unit}: . tracked, o asked${signs(trace)}`,
    ...cells.map((line, row) => `${label(row).padStart(LABEL)} ${line.join("")}`.trimEnd()),
    timeLine(trace, columnOf, options),
  ];
}

const signs = ({ points, calibrated_ms }: ZeroTrace): string =>
  `${points.some(({ cause }) => cause === "restored") ? ", x put back" : ""}${calibrated_ms.length > 0 ? ", | calibrated" : ""}`;

function timeLine(
  { from_ms, to_ms }: ZeroTrace,
  columnOf: (at_ms: number) => number,
  options: ZeroPlotOptions,
): string {
  let line = "";
  for (const { at_ms, text } of timeTicks(from_ms, to_ms, options.time_zone, Math.floor(COLUMNS / DATE_COLUMNS))) {
    const column = LABEL + 1 + columnOf(at_ms);
    if (column >= line.length + 1 || line === "") line = `${line.padEnd(column)}${text}`;
  }
  return line;
}

const times = (count: number): string => (count === 1 ? "once" : `${count} times`);

function movedHow(moved: number, asked: number): string {
  if (asked === 0) return `moved ${times(moved)}, never because it was asked for`;
  if (asked === moved) return `moved ${times(moved)}, asked for or put back`;
  return `moved ${times(moved)}, ${asked} of them asked for or put back`;
}

function told({ points }: ZeroTrace, options: ZeroPlotOptions): readonly string[] {
  const asked = points.filter(({ cause }) => cause !== "tracked");
  const last = points.at(-1);
  const now = last === undefined ? "-" : sayForce(last.shift_N, options);
  // What it follows is kept in steps, not at every moment.
  const head = [`when last kept, it stood ${now} from the calibrated zero`, movedHow(points.length, asked.length)];
  if (asked.length === 0) return head;
  const rows = asked
    .slice(-TOLD)
    .map(({ at_ms, cause, shift_N, performed_by }) => [
      sayInstant(new Date(at_ms).toISOString(), options.time_zone),
      cause,
      sayForce(shift_N, options),
      performed_by ?? "-",
    ]);
  return [...head, sayTable([["", "", "zero", "by"], ...rows], [2])];
}
