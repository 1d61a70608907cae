/** The marks of a residual plot: which way by the shape, which series by the filling, so that grey paper will do. */
import type { Check } from "../../../calibration/record.ts";

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

/** A coordinate, short enough to read and fine enough to print. */
export const at = (value: number): string => Number(value.toFixed(2)).toString();

/** Round numbers for the ticks of an axis, about `count` of them. */
export function ticks(from: number, to: number, count: number): number[] {
  const raw = (to - from) / count;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * ([1, 2, 5, 10].find((factor) => factor * power >= raw) ?? 10);
  const first = Math.ceil(from / step - 1e-9);
  const last = Math.floor(to / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, index) => Number(((first + index) * step).toPrecision(12)));
}
