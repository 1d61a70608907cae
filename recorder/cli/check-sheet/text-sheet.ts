/** Blocks as text of 80 columns, for a terminal, a file or a plain printer. */
import type { House } from "../quantities.ts";
import { sayTable } from "../table.ts";
import type { Block } from "./blocks.ts";
import type { Sheet } from "./sheet.ts";
import { sheetBlocks } from "./sheet-blocks.ts";

const COLUMNS = 80;

export const textSheet = (sheet: Sheet, house: House): string => sayBlocks(sheetBlocks(sheet, house));

export const sayBlocks = (blocks: readonly Block[]): string =>
  blocks
    .flatMap((block) => sayBlock(block))
    .map((line) => line.trimEnd())
    .join("\n")
    .replaceAll(/\n{3,}/g, "\n\n")
    .trim();

function sayBlock(block: Block): string[] {
  switch (block.is) {
    case "title":
      return underlined(block.text, "=");
    case "heading":
      return ["", ...underlined(block.text, "-")];
    case "sentence":
      return wrapped(harmless(block.text), "", "");
    case "list":
      return [...block.items.flatMap((item) => wrapped(harmless(item), "- ", "  ")), ""];
    case "facts": {
      const width = Math.max(...block.rows.map(([name]) => name.length)) + 2;
      return [
        ...block.rows.flatMap(([name, value]) => wrapped(harmless(value), name.padEnd(width), " ".repeat(width))),
        "",
      ];
    }
    case "table":
      return [
        ...sayTable(
          [block.head, ...block.rows].map((row) => row.map(harmless)),
          block.right,
        ).split("\n"),
        "",
      ];
    case "plot":
      return [];
    case "signature":
      return ["", `Signed ${"_".repeat(30)}  Date ${"_".repeat(20)}`];
  }
}

const underlined = (text: string, with_: string): string[] => {
  const lines = wrapped(harmless(text), "", "");
  return [...lines, with_.repeat(Math.max(...lines.map((line) => line.length))), ""];
};

/** Nothing in a note or a name may steer a terminal or break a line. */
const harmless = (text: string): string => text.replaceAll(/[\p{Cc}\p{Cs}\p{Zl}\p{Zp}]/gu, "?");

function wrapped(text: string, first: string, next: string): string[] {
  const lines: string[] = [];
  let line = first;
  let empty = true;
  const room = COLUMNS - next.length;
  // A word that is longer than a line is cut, so that no printer has to decide where.
  const words = text.split(" ").flatMap((word) => word.match(new RegExp(`.{1,${room}}`, "gu")) ?? [""]);
  for (const word of words) {
    if (!empty && line.length + 1 + word.length > COLUMNS) {
      lines.push(line);
      line = next;
      empty = true;
    }
    line += empty ? word : ` ${word}`;
    empty = false;
  }
  return [...lines, line];
}
