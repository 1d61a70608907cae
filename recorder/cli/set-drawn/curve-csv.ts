/** A set's curve as a table after RFC 4180: lines end in CR LF, decimals have a point in every country. */
import type { SetCurve } from "../../drawing/set-plot-facts.ts";

/** s since the first onset and N, as the recorder answers them; empty where there was no valid reading. */
export function curveCsv({ elapsed_s, force_N }: SetCurve): string {
  const rows = elapsed_s.map((s, index) => `${s},${force_N[index] ?? ""}`);
  return `${["elapsed_s,force_N", ...rows].join("\r\n")}\r\n`;
}
