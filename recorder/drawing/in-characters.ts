/** One set in a terminal: force against time, the floor as it rose, efforts numbered, the stop. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { fromNewtons } from "../../protocol/units.ts";
import { ticks } from "./axis.ts";
import {
  type Characters,
  curveCells,
  framedCells,
  MARGIN,
  type Reaches,
  rowLabels,
  rowOfWords,
  SIGNS,
} from "./character-plot.ts";
import { sayForce, saySeconds } from "./quantities.ts";
import { highestWithin, type Point, stretches } from "./set-curve.ts";
import { floorSteps, type Step } from "./set-levels.ts";
import { decides } from "./set-marks.ts";
import type { SetCurve, SetPlotOptions } from "./set-plot-facts.ts";
import { stopWords } from "./set-words.ts";

export interface InCharacters {
  /** Of the terminal; nothing is broader. */
  readonly columns: number;
  readonly characters: Characters;
}

const ROWS = 14;
const BEFORE_S = 1;
const HEADROOM = 0.06;
/** Columns a time and the space beside it take. */
const TIME_COLUMNS = 10;

interface Grid {
  readonly message: SetMessage;
  readonly runs: readonly (readonly Point[])[];
  readonly columns: number;
  readonly from_s: number;
  readonly end_s: number;
  readonly top_N: number;
  readonly low_N: number;
  readonly columnOf: (s: number) => number;
  readonly rowOf: (N: number) => number;
}

/** Lines without a line end at the last; none is broader than asked, down to 40 columns. */
export function setInCharacters(message: SetMessage, curve: SetCurve, options: SetPlotOptions & InCharacters): string {
  const { characters } = options;
  const grid = gridOf(message, curve, Math.max(30, options.columns - MARGIN - 1));
  const { columns, columnOf, from_s, end_s } = grid;
  const steps = floorSteps(message, options.floor ?? null);
  const times = ticks(from_s, end_s, Math.max(2, Math.floor(columns / TIME_COLUMNS))).map((s) => ({
    column: columnOf(s),
    text: String(s),
  }));
  return [
    ...linesOf(caption(message, options, steps.length > 0), options.columns - 1),
    ...numbersOver(grid),
    ...framedCells({
      cells: cellsOf(grid, steps, characters),
      labels: labelsOf(grid, options),
      ticks: times,
      characters,
    }),
    `${" ".repeat(MARGIN)}${rowOfWords([{ column: Math.floor(columns / 2), text: "time since the first onset, s" }], columns)}`,
  ].join("\n");
}

function gridOf(message: SetMessage, curve: SetCurve, columns: number): Grid {
  const { best_force_N, duration_s, efforts } = message;
  const runs = stretches(message, curve, -BEFORE_S);
  const end_s = Math.max(runs.at(-1)?.at(-1)?.s ?? 0, duration_s, 0.1);
  const from_s = Math.min(0, runs[0]?.[0]?.s ?? 0);
  const peaks_N = efforts.map(({ peak_force_N }) => peak_force_N);
  const highest_N = Math.max(highestWithin(runs, from_s, end_s)?.N ?? 0, best_force_N ?? 0, ...peaks_N, 1);
  const low_N = runs.reduce((least, run) => run.reduce((so_far, { N }) => Math.min(so_far, N), least), 0);
  const top_N = highest_N * (1 + HEADROOM);
  const whole = (share: number, count: number): number => Math.min(count - 1, Math.max(0, Math.floor(share * count)));
  return {
    message,
    runs,
    columns,
    from_s,
    end_s,
    top_N,
    low_N,
    columnOf: (s) => whole((s - from_s) / (end_s - from_s), columns),
    rowOf: (N) => whole((top_N - N) / (top_N - low_N), ROWS),
  };
}

/** The curve, and under it the floor, the stop and the best. */
function cellsOf(grid: Grid, steps: readonly Step[], characters: Characters): string[][] {
  const { message, runs, columns, from_s, end_s, top_N, low_N, columnOf, rowOf } = grid;
  const { dots_across, dots_down, floor, level, upright, broken } = SIGNS[characters];
  const reaches = reachesOf(runs, {
    length: columns * dots_across,
    across: (s) =>
      Math.min(columns * dots_across - 1, Math.floor(((s - from_s) / (end_s - from_s)) * columns * dots_across)),
    down: (N) => Math.min(ROWS * dots_down - 1, Math.floor(((top_N - N) / (top_N - low_N)) * ROWS * dots_down)),
  });
  const cells = curveCells(reaches, columns, ROWS, characters);
  const put = (row: number, column: number, sign: string): void => {
    if (cells[row]?.[column] === " ") cells[row][column] = sign;
  };
  const across = (N: number, since_s: number, to_s: number, sign: string): void => {
    for (let column = columnOf(since_s); column <= columnOf(to_s); column++) put(rowOf(N), column, sign);
  };
  const down = (s: number, sign: string): void => {
    for (let row = 0; row < ROWS; row++) put(row, columnOf(s), sign);
  };
  for (const { from_s: since_s, to_s, floor_N } of steps) across(floor_N, since_s, to_s, floor);
  down(message.duration_s, upright);
  if (end_s - message.duration_s > 0.5) down(end_s, broken);
  if (message.best_force_N !== null) across(message.best_force_N, from_s, end_s, level);
  return cells;
}

/** The set's own figures first, round numbers where there is room. */
function labelsOf({ message, top_N, low_N, rowOf }: Grid, { unit }: SetPlotOptions): ReadonlyMap<number, string> {
  const { best_force_N, floor_force_N } = message;
  const own = [floor_force_N, best_force_N].flatMap((N) =>
    N === null ? [] : [{ row: rowOf(N), text: fromNewtons(N, unit).toFixed(0) }],
  );
  const per_unit_N = 1 / fromNewtons(1, unit);
  const round = ticks(low_N / per_unit_N, top_N / per_unit_N, 4);
  return rowLabels([...own, ...[0, ...round].map((tick) => ({ row: rowOf(tick * per_unit_N), text: String(tick) }))]);
}

function caption(
  message: SetMessage,
  { unit, time_zone, characters }: SetPlotOptions & InCharacters,
  with_floor: boolean,
): readonly string[] {
  const { floor, level, upright } = SIGNS[characters];
  const house = { unit, time_zone };
  const { best_force_N, floor_force_N, duration_s, simulated } = message;
  return [
    `force, ${unit}`,
    ...(best_force_N === null ? [] : [`${level} best ${sayForce(best_force_N, house)}`]),
    ...(floor_force_N === null ? [] : [`${with_floor ? `${floor} ` : ""}floor ${sayForce(floor_force_N, house)}`]),
    `${upright} ${saySeconds(duration_s)}: ${stopWords(message)}`,
    ...(simulated ? ["simulated"] : []),
  ];
}

/** Parts in lines, broken only between them; one that is broader than a line is cut. */
export function linesOf(parts: readonly string[], room: number): readonly string[] {
  const lines: string[] = [];
  for (const part of parts) {
    const cut = part.length > room ? `${part.slice(0, room - 3)}...` : part;
    const last = lines.at(-1);
    if (last !== undefined && last.length + 3 + cut.length <= room) lines[lines.length - 1] = `${last}   ${cut}`;
    else lines.push(cut);
  }
  return lines;
}

/** In a row of their own over the peaks, as many as have room; the last first, since it is the one that decided. */
function numbersOver({ message, runs, columnOf, columns }: Grid): readonly string[] {
  const { efforts, style, decided_by } = message;
  if (style === "hold") return [];
  const words = efforts
    .filter(({ muscle_action }) => decides(muscle_action, decided_by))
    .map(({ effort_number, start_s, duration_s }) => ({
      column: columnOf(highestWithin(runs, start_s, start_s + duration_s)?.s ?? start_s),
      text: String(effort_number),
    }));
  return [`${" ".repeat(MARGIN)}${rowOfWords([...words.slice(-1), ...words.slice(0, -1)], columns)}`];
}

interface Dots {
  readonly across: (s: number) => number;
  readonly down: (N: number) => number;
  readonly length: number;
}

/** Lines from reading to reading, and none over a gap. */
function reachesOf(runs: readonly (readonly Point[])[], { across, down, length }: Dots): Reaches {
  const reaches = new Array<{ top: number; bottom: number } | null>(length).fill(null);
  const reach = (column: number, row: number): void => {
    const was = reaches[column] ?? null;
    reaches[column] =
      was === null ? { top: row, bottom: row } : { top: Math.min(was.top, row), bottom: Math.max(was.bottom, row) };
  };
  for (const run of runs) {
    for (const [index, { s, N }] of run.entries()) {
      const column = across(s);
      reach(column, down(N));
      const before = run[index - 1];
      if (before === undefined) continue;
      const from = across(before.s);
      for (let between = from + 1; between <= column; between++) {
        const way = (between - from) / (column - from + 1);
        const row = down(before.N + way * (N - before.N));
        reach(between - 1, row);
        reach(between, row);
      }
    }
  }
  return reaches;
}
