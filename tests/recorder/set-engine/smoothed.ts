/** Trailing means of a force given as a function of time, worked out without the engine: the midpoint rule at 1 ms. */

/** Mean over [to - window, to], N. */
export function meanBefore(force: (at_s: number) => number, to_s: number, window_s = 1): number {
  const steps = Math.round(window_s * 1000);
  let sum_N = 0;
  for (let index = 0; index < steps; index++) sum_N += force(to_s - window_s + ((index + 0.5) * window_s) / steps);
  return sum_N / steps;
}

/** Highest min(m(t), m(t + 1 s) / 0.95) with both seconds between the onset and `to_s`, N. */
export function confirmedBest(force: (at_s: number) => number, onset_s: number, to_s: number): number {
  let best_N = 0;
  for (let at_s = onset_s + 1; at_s + 1 <= to_s; at_s += 0.005) {
    best_N = Math.max(best_N, Math.min(meanBefore(force, at_s), meanBefore(force, at_s + 1) / 0.95));
  }
  return best_N;
}

/** The first moment from `from_s` on at which the trailing mean is under a level, s. */
export function meanFallsBelow(force: (at_s: number) => number, level_N: number, from_s: number): number {
  let low_s = from_s;
  while (meanBefore(force, low_s) >= level_N) low_s += 0.05;
  let high_s = low_s;
  low_s -= 0.05;
  while (high_s - low_s > 1e-4) {
    const middle_s = (low_s + high_s) / 2;
    if (meanBefore(force, middle_s) < level_N) high_s = middle_s;
    else low_s = middle_s;
  }
  return high_s;
}
