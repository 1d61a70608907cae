/** The marks of a residual plot: which way by the shape, which series by the filling, so that grey paper will do. */
import type { Check } from "../../../calibration/record.ts";
import { at } from "../../drawing/axis.ts";

const SIZE = 5;

export function mark(x: number, y: number, loading: Check["loading"], series: number): string {
  const tip = loading === "increasing" ? -SIZE : SIZE;
  const points = [
    [x, y + tip],
    [x - SIZE, y - tip * 0.7],
    [x + SIZE, y - tip * 0.7],
  ];
  const path = points.map(([px, py]) => `${at(px!)},${at(py!)}`).join(" ");
  const triangle = `<polygon points="${path}" fill="${series === 1 ? "#000" : "#fff"}" stroke="#000"/>`;
  return series === 3 ? `${triangle}<circle cx="${at(x)}" cy="${at(y)}" r="1.4"/>` : triangle;
}
