/** Numbers on paper: coordinates, and the round numbers of an axis. */

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
