/**
 * Blocks as one page of HTML that prints on A4: its style and drawings are in it, nothing is fetched and nothing runs, so
 * that it can be mailed, filed and opened in twenty years.
 */

import { escaped } from "../../drawing/escaped.ts";
import { htmlPage } from "../html-page.ts";
import type { House } from "../quantities.ts";
import type { Block } from "./blocks.ts";
import { residualPlot } from "./residual-plot.ts";
import type { Sheet } from "./sheet.ts";
import { sheetBlocks } from "./sheet-blocks.ts";

export function htmlSheet(sheet: Sheet, house: House): string {
  const blocks = sheetBlocks(sheet, house);
  const title = `Calibration sheet: ${sheet.record.station}`;
  return htmlPage(title, blocks.map((block) => blockHtml(block, house)).join("\n"));
}

function blockHtml(block: Block, house: House): string {
  switch (block.is) {
    case "title":
      return `<h1>${escaped(block.text)}</h1>`;
    case "heading":
      return `<h2>${escaped(block.text)}</h2>`;
    case "sentence":
      return block.strong === true ? `<p><strong>${escaped(block.text)}</strong></p>` : `<p>${escaped(block.text)}</p>`;
    case "list":
      return `<ul>${block.items.map((item) => `<li>${escaped(item)}</li>`).join("")}</ul>`;
    case "facts": {
      const rows = block.rows.map(
        ([name, value]) => `<tr><th scope="row">${escaped(name)}</th><td>${escaped(value)}</td></tr>`,
      );
      return `<table class="facts">${rows.join("")}</table>`;
    }
    case "table":
      return tableHtml(block);
    case "plot":
      return `<figure>${residualPlot(block.part, house)}<figcaption>${PLOT_CAPTION}</figcaption></figure>`;
    case "signature":
      return '<p class="signature">Signed <span></span> Date <span></span></p>';
  }
}

function tableHtml({ head, rows, right }: Extract<Block, { is: "table" }>): string {
  const row = (cells: readonly string[], tag: "th" | "td"): string => {
    const made = cells.map((cell, column) => {
      const numeric = right.includes(column) ? ' class="number"' : "";
      return `<${tag}${tag === "th" ? ' scope="col"' : ""}${numeric}>${escaped(cell)}</${tag}>`;
    });
    return `<tr>${made.join("")}</tr>`;
  };
  return `<table><thead>${row(head, "th")}</thead><tbody>${rows.map((cells) => row(cells, "td")).join("")}</tbody></table>`;
}

const PLOT_CAPTION =
  "Errors against force. Grey: what the record claims (k = 2). Broken lines: class limits of the error. Tip up: load " +
  "reached from below; tip down: from above. Filled, hollow, dotted: series 1, 2, 3.";
