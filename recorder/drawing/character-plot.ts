/** A plot made of characters: cells for words and marks, and in Braille eight dots to a cell for a curve. */

/** Braille where the terminal shows it; plain ASCII goes everywhere. */
export type Characters = "braille" | "ascii";

interface Signs {
  readonly dots_across: number;
  readonly dots_down: number;
  readonly floor: string;
  readonly level: string;
  readonly upright: string;
  readonly broken: string;
  readonly axis: string;
  readonly corner: string;
  readonly tick: string;
  readonly shade: string;
}

export const SIGNS: Readonly<Record<Characters, Signs>> = {
  braille: {
    dots_across: 2,
    dots_down: 4,
    floor: "╌",
    level: "·",
    upright: "│",
    broken: "┊",
    axis: "─",
    corner: "└",
    tick: "┴",
    shade: "░",
  },
  ascii: {
    dots_across: 1,
    dots_down: 1,
    floor: "-",
    level: ".",
    upright: "|",
    broken: ":",
    axis: "_",
    corner: "|",
    tick: "|",
    shade: ".",
  },
};

/** Dots of one cell, by column then row, as Unicode numbers them from U+2800. */
const BITS = [
  [0x01, 0x02, 0x04, 0x40],
  [0x08, 0x10, 0x20, 0x80],
];
const BRAILLE = 0x2800;

/** The lowest and highest of a curve in each column of dots, rows counted from the top; null: nothing there. */
export type Reaches = readonly ({ readonly top: number; readonly bottom: number } | null)[];

/** Cells of the curve alone; a blank where it does not pass. */
export function curveCells(reaches: Reaches, columns: number, rows: number, characters: Characters): string[][] {
  const { dots_across, dots_down } = SIGNS[characters];
  const bits = Array.from({ length: rows }, () => new Array<number>(columns).fill(0));
  for (const [across, reach] of reaches.entries()) {
    if (reach === null) continue;
    for (let down = Math.max(0, reach.top); down <= Math.min(rows * dots_down - 1, reach.bottom); down++) {
      const row = bits[Math.floor(down / dots_down)];
      const column = Math.floor(across / dots_across);
      if (row?.[column] !== undefined) row[column] |= BITS[across % dots_across]![down % dots_down]!;
    }
  }
  const sign = (dots: number): string => {
    if (dots === 0) return " ";
    return characters === "ascii" ? "*" : String.fromCharCode(BRAILLE + dots);
  };
  return bits.map((row) => row.map(sign));
}

export interface Tick {
  readonly column: number;
  readonly text: string;
}

/** Words in one row at their columns, centred, as many as have room; the earlier in the list go first. */
export function rowOfWords(words: readonly Tick[], columns: number): string {
  const cells = new Array<string>(columns).fill(" ");
  for (const { column, text } of words) {
    const from = Math.max(0, Math.min(columns - text.length, column - Math.floor((text.length - 1) / 2)));
    const room = cells.slice(Math.max(0, from - 1), from + text.length + 1);
    if (text.length > columns || room.some((cell) => cell !== " ")) continue;
    for (const [index, sign] of [...text].entries()) cells[from + index] = sign;
  }
  return cells.join("").trimEnd();
}

export interface Framed {
  readonly cells: readonly (readonly string[])[];
  /** Written left of the rows they name. */
  readonly labels: ReadonlyMap<number, string>;
  readonly ticks: readonly Tick[];
  readonly characters: Characters;
}

/** Breadth of the labels and the upright beside them. */
export const MARGIN = 9;

export function framedCells({ cells, labels, ticks, characters }: Framed): readonly string[] {
  const { upright, axis, corner, tick } = SIGNS[characters];
  const columns = cells[0]?.length ?? 0;
  const marked = new Set(ticks.map(({ column }) => column));
  const floor = Array.from({ length: columns }, (_, column) => (marked.has(column) ? tick : axis)).join("");
  return [
    ...cells.map((row, index) =>
      `${(labels.get(index) ?? "").padStart(MARGIN - 1)}${upright}${row.join("")}`.trimEnd(),
    ),
    `${" ".repeat(MARGIN - 1)}${corner}${floor}`,
    `${" ".repeat(MARGIN)}${rowOfWords(ticks, columns)}`,
  ];
}

/** Labels for rows, the first asked for first; a row has one, and its neighbours have none. */
export function rowLabels(
  wanted: readonly { readonly row: number; readonly text: string }[],
): ReadonlyMap<number, string> {
  const labels = new Map<number, string>();
  for (const { row, text } of wanted) {
    if (![row - 1, row, row + 1].some((near) => labels.has(near))) labels.set(row, text);
  }
  return labels;
}
