/**
 * Blocks as one page of HTML that prints on A4: its style and drawings are in it, nothing is fetched and nothing runs, so
 * that it can be mailed, filed and opened in twenty years.
 */

import { escaped } from "../../drawing/escaped.ts";
import type { House } from "../quantities.ts";
import type { Block } from "./blocks.ts";
import { residualPlot } from "./residual-plot.ts";
import type { Sheet } from "./sheet.ts";
import { sheetBlocks } from "./sheet-blocks.ts";

export function htmlSheet(sheet: Sheet, house: House): string {
  const blocks = sheetBlocks(sheet, house);
  const title = `Calibration sheet: ${sheet.record.station}`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width">
<title>${escaped(title)}</title>
<style>${STYLE}</style>
</head>
<body>
${blocks.map((block) => blockHtml(block, house)).join("\n")}
</body>
</html>
`;
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

/** Black on white, and shapes for what else would be colours. */
const STYLE = `
@page { size: A4; margin: 15mm; }
body { font: 10pt/1.4 sans-serif; color: #000; background: #fff; max-width: 180mm; margin: 1em auto; padding: 0 1em; }
h1 { font-size: 16pt; margin: 0 0 .5em; }
h2 { font-size: 12pt; margin: 1.2em 0 .4em; border-bottom: 1px solid #000; break-after: avoid; }
p { margin: .4em 0; }
ul { margin: .3em 0; padding-left: 1.4em; }
table { border-collapse: collapse; margin: .5em 0; font-variant-numeric: tabular-nums; }
th, td { padding: .15em .7em .15em 0; text-align: left; vertical-align: top; }
thead th { border-bottom: 1px solid #000; }
tr, figure { break-inside: avoid; }
.number { text-align: right; }
.facts td { overflow-wrap: anywhere; }
figure { margin: .8em 0; }
figcaption { font-size: 9pt; }
svg { width: 130mm; max-width: 100%; height: auto; }
.signature { margin-top: 3em; }
.signature span { display: inline-block; width: 60mm; border-bottom: 1px solid #000; margin-right: 1em; }
@media print { body { margin: 0; padding: 0; max-width: none; } }
`;
