/** The sheet of a visit as one page of HTML to print on A4 and hand over. It says the trainee's code and no name. */
import { escaped } from "../../drawing/escaped.ts";
import { htmlPage } from "../html-page.ts";
import type { House } from "../quantities.ts";
import { CAUTIONS } from "./cautions.ts";
import { setBlock } from "./set-block.ts";
import type { Visit } from "./visit.ts";

export function visitHtml({ trainee, day, sets, trends }: Visit, house: House): string {
  const title = `Sets of ${trainee} on ${day}`;
  const blocks = sets.map((one, index) =>
    setBlock(one, { number: index + 1, day, trend: trends.get(one.set.station), house }),
  );
  const simulated = sets.some(({ set }) => set.simulated)
    ? "<p><strong>Simulated: nobody trained. This is the program's own gym.</strong></p>\n"
    : "";
  const count = sets.length === 1 ? "1 set" : `${sets.length} sets`;
  const body = `<h1>${escaped(title)}</h1>
${simulated}<p>${escaped(`${count}. Times of day in ${house.time_zone}, forces in ${house.unit}.`)}</p>
${blocks.join("\n")}
<section class="foot">
<h2>Please mind</h2>
<ul>${CAUTIONS.map((caution) => `<li>${escaped(caution)}</li>`).join("")}</ul>
</section>`;
  return htmlPage(title, body, STYLE);
}

/** A set is never torn apart, and its drawing is as wide as the paper, so that its smallest words can be read. */
const STYLE = `
.set, .foot { break-inside: avoid; }
h1 { overflow-wrap: anywhere; }
h2 small { font-weight: normal; font-size: 9pt; }
.set figure { margin: .3em 0; }
.set svg { width: 100%; }
dl { columns: 3; column-gap: 6mm; margin: .3em 0; font-size: 9pt; line-height: 1.4; font-variant-numeric: tabular-nums; }
dl div { display: flex; justify-content: space-between; gap: 2mm; break-inside: avoid; border-bottom: .3pt solid #999; }
dd { margin: 0; text-align: right; overflow-wrap: anywhere; }
.set ul, .foot ul { font-size: 9pt; line-height: 1.3; }
.note { font-size: 9pt; overflow-wrap: anywhere; }
`;
