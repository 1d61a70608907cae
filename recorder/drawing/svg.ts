/** Pieces of SVG every drawing is made of. Black, greys, dashes and shapes only: grey paper and any eye will do. */
import { at } from "./axis.ts";
import { escaped } from "./escaped.ts";

export const WIDTH = 800;
/** px; at a width of 800 nothing is written smaller than 11. */
export const TEXT = 12;
const HEAD = 15;
/** Breadth of a letter as a share of its size: a rough measure that errs on the broad side for a sans-serif face. */
const LETTER = 0.58;

export const GREY = "#555";
export const GRID = "#ddd";

export const widthOf = (text: string, size = TEXT): number => text.length * size * LETTER;

/** Cut to a breadth in px. */
export function fitted(text: string, room: number, size = TEXT): string {
  if (widthOf(text, size) <= room) return text;
  return `${text.slice(0, Math.max(1, Math.floor(room / (size * LETTER)) - 3)).trimEnd()}...`;
}

export interface Lettering {
  readonly anchor?: "start" | "middle" | "end";
  readonly bold?: boolean;
  readonly fill?: string;
}

export function text(x: number, y: number, content: string, { anchor, bold, fill }: Lettering = {}): string {
  const where = anchor === undefined || anchor === "start" ? "" : ` text-anchor="${anchor}"`;
  const weight = bold === true ? ` font-weight="bold"` : "";
  const colour = fill === undefined ? "" : ` fill="${fill}"`;
  return `<text x="${at(x)}" y="${at(y)}"${where}${weight}${colour}>${escaped(content)}</text>`;
}

export interface Stroke {
  readonly colour?: string;
  readonly width?: number;
  readonly dash?: string;
  /** What it stands for, so that a test or a page can find it. */
  readonly of?: string;
}

export const stroked = ({ colour = "#000", width = 1, dash, of }: Stroke): string =>
  `${of === undefined ? "" : ` class="${of}"`} stroke="${colour}"${width === 1 ? "" : ` stroke-width="${width}"`}` +
  `${dash === undefined ? "" : ` stroke-dasharray="${dash}"`}`;

export const line = (x1: number, y1: number, x2: number, y2: number, stroke: Stroke = {}): string =>
  `<line x1="${at(x1)}" y1="${at(y1)}" x2="${at(x2)}" y2="${at(y2)}"${stroked(stroke)}/>`;

export interface Head {
  readonly height: number;
  readonly title: string;
  /** For who cannot see it: whole sentences. */
  readonly told: string;
  /** Under the title; the last ones are the remarks nobody may miss. */
  readonly lines: readonly string[];
  readonly remarks: readonly string[];
}

export interface Drawing {
  readonly height: number;
  readonly title: string;
  /** From the top left corner on white, with its title and description. */
  readonly svg: string;
}

/** The whole drawing on white. */
export function framed({ height, title, told, lines, remarks }: Head, inside: string): Drawing {
  const room = WIDTH - 24;
  const head = `<text x="12" y="22" font-size="${HEAD}" font-weight="bold">${escaped(fitted(title, room, HEAD * 1.1))}</text>`;
  const under = [
    ...lines.map((said, index) => text(12, 40 + 17 * index, fitted(said, room))),
    ...(remarks.length === 0
      ? []
      : [text(12, 40 + 17 * lines.length, fitted(remarks.join("; "), room / 1.1), { bold: true })]),
  ];
  const ground = `<rect width="${WIDTH}" height="${at(height)}" fill="#fff"/>`;
  const named = `<title>${escaped(title)}</title><desc>${escaped(told)}</desc>`;
  return { height, title, svg: `${named}${ground}${head}${under.join("")}${inside}` };
}

const opened = (height: number): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${at(height)}" role="img" font-family="sans-serif" font-size="${TEXT}">`;

export const asSvg = ({ height, svg }: Drawing): string => `${opened(height)}${svg}</svg>`;

/** One under the other, in one file. */
export function stacked(title: string, drawings: readonly Drawing[]): string {
  const tops = drawings.map((_, index) => drawings.slice(0, index).reduce((sum, { height }) => sum + height, 0));
  const height = drawings.reduce((sum, drawing) => sum + drawing.height, 0);
  const parts = drawings.map(
    ({ svg }, index) => `<g role="img" transform="translate(0 ${at(tops[index]!)})">${svg}</g>`,
  );
  // The whole is a group of images here, each with a description of its own.
  return `${opened(height).replace(`role="img"`, `role="group"`)}<title>${escaped(title)}</title>${parts.join("")}</svg>`;
}

/** Moves heights apart so that lines of text fit, each as near its own as may be; `from` to `to` is the room there is. */
export function spread(wanted: readonly number[], gap: number, from: number, to: number): readonly number[] {
  const order = wanted.map((_, index) => index).sort((one, other) => wanted[one]! - wanted[other]!);
  const placed = wanted.map((y) => y);
  let least = from;
  for (const index of order) {
    placed[index] = Math.max(placed[index]!, least);
    least = placed[index]! + gap;
  }
  let most = to;
  for (const index of order.toReversed()) {
    placed[index] = Math.min(placed[index]!, most);
    most = placed[index]! - gap;
  }
  return placed;
}

export interface LegendEntry {
  /** Drawn about (x, y), 20 px broad. */
  readonly sample: (x: number, y: number) => string;
  readonly text: string;
}

const SAMPLE = 26;
const LEGEND_ROW = 18;

/** In rows from the left; `height` says how far they reach. */
export function legend(
  entries: readonly LegendEntry[],
  top: number,
): { readonly svg: string; readonly height: number } {
  let x = 12;
  let y = top;
  let svg = "";
  for (const entry of entries) {
    const breadth = SAMPLE + widthOf(entry.text) + 14;
    if (x > 12 && x + breadth > WIDTH - 12) {
      x = 12;
      y += LEGEND_ROW;
    }
    svg += entry.sample(x + 10, y - 4) + text(x + SAMPLE, y, entry.text);
    x += breadth;
  }
  return { svg, height: entries.length === 0 ? 0 : y - top + LEGEND_ROW };
}

export interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

export const overlap = (one: Box, other: Box): boolean =>
  one.x < other.x + other.width &&
  other.x < one.x + one.width &&
  one.y < other.y + other.height &&
  other.y < one.y + one.height;
