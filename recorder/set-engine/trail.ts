/**
 * The last seconds of force, as a persistent value: appending gives a new trail and leaves the old one as it was.
 *
 * Each sample carries the running integral of force (impulse, N.s) and of time times force (N.s2), so the mean over
 * any window, and the least-squares slope over any stretch, are differences of two look-ups, exact for a force that
 * runs straight between readings, at any reading rate. Newest samples hang on a short list; every 32 are sealed into
 * an array. What is older than `KEPT_S` is let go. Time is device time in us, never decreasing.
 */
export interface Sample {
  readonly at_us: number;
  readonly force_N: number;
  /** Integral of force since the trail began, N.s. Nothing is added over a break. */
  readonly impulse_N_s: number;
  /** Integral of (time since the trail began) x force, N.s2. */
  readonly moment_N_s2: number;
  readonly older: Sample | null;
}

export interface Trail {
  readonly origin_us: number;
  /** Windows may not reach back beyond this: the trail began, or broke, here. */
  readonly whole_from_us: number;
  readonly newest: Sample;
  readonly loose: number;
  readonly sealed: readonly (readonly Sample[])[];
}

const SEAL_AT = 32;
const KEPT_S = 2.6;

export function beginTrail(at_us: number, force_N: number): Trail {
  const newest: Sample = { at_us, force_N, impulse_N_s: 0, moment_N_s2: 0, older: null };
  return { origin_us: at_us, whole_from_us: at_us, newest, loose: 1, sealed: [] };
}

/** Appends a reading; with `broken`, nothing is integrated since the last one and no window spans the break. */
export function append(trail: Trail, at_us: number, force_N: number, broken = false): Trail {
  const last = trail.newest;
  let impulse_N_s = last.impulse_N_s;
  let moment_N_s2 = last.moment_N_s2;
  if (!broken) {
    const from_s = (last.at_us - trail.origin_us) / 1e6;
    const to_s = (at_us - trail.origin_us) / 1e6;
    const step_s = to_s - from_s;
    impulse_N_s += (step_s * (last.force_N + force_N)) / 2;
    moment_N_s2 += (step_s * (last.force_N * (2 * from_s + to_s) + force_N * (from_s + 2 * to_s))) / 6;
  }
  const whole_from_us = broken ? at_us : trail.whole_from_us;
  if (trail.loose < SEAL_AT) {
    const newest: Sample = { at_us, force_N, impulse_N_s, moment_N_s2, older: last };
    return { origin_us: trail.origin_us, whole_from_us, newest, loose: trail.loose + 1, sealed: trail.sealed };
  }
  const newest: Sample = { at_us, force_N, impulse_N_s, moment_N_s2, older: null };
  return { origin_us: trail.origin_us, whole_from_us, newest, loose: 1, sealed: seal(trail, at_us) };
}

function seal(trail: Trail, at_us: number): readonly (readonly Sample[])[] {
  const block: Sample[] = new Array(trail.loose);
  let index = trail.loose;
  for (let sample: Sample | null = trail.newest; sample !== null; sample = sample.older) block[--index] = sample;
  const oldest_us = at_us - KEPT_S * 1e6;
  const kept = trail.sealed.filter((other) => (other[other.length - 1] as Sample).at_us >= oldest_us);
  kept.push(block);
  return kept;
}

/** The samples around a moment: the last at or before it, and the one after. null: before what is kept. */
function around(trail: Trail, at_us: number): { before: Sample; after: Sample | null } | null {
  let after: Sample | null = null;
  for (let sample: Sample | null = trail.newest; sample !== null; sample = sample.older) {
    if (sample.at_us <= at_us) return { before: sample, after };
    after = sample;
  }
  for (let index = trail.sealed.length - 1; index >= 0; index--) {
    const block = trail.sealed[index] as readonly Sample[];
    if ((block[0] as Sample).at_us > at_us) {
      after = block[0] as Sample;
      continue;
    }
    let low = 0;
    let high = block.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if ((block[middle] as Sample).at_us <= at_us) low = middle;
      else high = middle - 1;
    }
    return { before: block[low] as Sample, after: block[low + 1] ?? after };
  }
  return null;
}

export interface Integrals {
  readonly impulse_N_s: number;
  readonly moment_N_s2: number;
}

/** Both integrals up to a moment inside the trail, N.s and N.s2; null where the trail does not reach it unbroken. */
export function integralsAt(trail: Trail, at_us: number): Integrals | null {
  if (at_us >= trail.newest.at_us) return at_us === trail.newest.at_us ? trail.newest : null;
  if (at_us < trail.whole_from_us) return null;
  const place = around(trail, at_us);
  if (place === null) return null;
  const { before, after } = place;
  if (after === null || before.at_us === at_us) return before;
  const from_s = (before.at_us - trail.origin_us) / 1e6;
  const to_s = (at_us - trail.origin_us) / 1e6;
  const step_s = to_s - from_s;
  const force_N =
    before.force_N + ((after.force_N - before.force_N) * (at_us - before.at_us)) / (after.at_us - before.at_us);
  return {
    impulse_N_s: before.impulse_N_s + (step_s * (before.force_N + force_N)) / 2,
    moment_N_s2:
      before.moment_N_s2 + (step_s * (before.force_N * (2 * from_s + to_s) + force_N * (from_s + 2 * to_s))) / 6,
  };
}

/** Time-weighted mean force over [to - window, to], N; null where the trail does not hold the whole window. */
export function meanForce_N(trail: Trail, to_us: number, window_s: number): number | null {
  const to = integralsAt(trail, to_us);
  if (to === null) return null;
  const from = integralsAt(trail, to_us - window_s * 1e6);
  return from === null ? null : (to.impulse_N_s - from.impulse_N_s) / window_s;
}

/** What the last short while held: extremes in N, and the time-weighted mean where all of it was measured, else null. */
export interface Recent {
  readonly mean_N: number | null;
  readonly low_N: number;
  readonly high_N: number;
}

/** One walk back over the last `window_s`. */
export function recent(trail: Trail, window_s: number): Recent {
  const { newest } = trail;
  const from_us = newest.at_us - window_s * 1e6;
  let low_N = newest.force_N;
  let high_N = low_N;
  let after = newest;
  let block = trail.sealed.length;
  let sample: Sample | null = newest;
  while (sample !== null && sample.at_us >= from_us) {
    if (sample.force_N < low_N) low_N = sample.force_N;
    else if (sample.force_N > high_N) high_N = sample.force_N;
    after = sample;
    // The samples of a sealed block still hang together; only from one block to the next there is no link.
    if (sample.older === null) block -= 1;
    sample = sample.older ?? trail.sealed[block]?.at(-1) ?? null;
  }
  if (from_us < trail.whole_from_us) return { mean_N: null, low_N, high_N };
  let impulse_N_s = newest.impulse_N_s - after.impulse_N_s;
  if (sample !== null) {
    const slope = (after.force_N - sample.force_N) / (after.at_us - sample.at_us);
    const force_N = sample.force_N + slope * (from_us - sample.at_us);
    impulse_N_s += (((after.at_us - from_us) / 1e6) * (force_N + after.force_N)) / 2;
  }
  return { mean_N: impulse_N_s / window_s, low_N, high_N };
}

/** Least-squares slope of force over a stretch, N/s, from the integrals at its ends; null for an empty stretch. */
export function slope_N_s(
  origin_us: number,
  from_us: number,
  from: Integrals,
  to_us: number,
  to: Integrals,
): number | null {
  const length_s = (to_us - from_us) / 1e6;
  if (length_s <= 0) return null;
  const middle_s = ((from_us + to_us) / 2 - origin_us) / 1e6;
  // For a straight line b.t the centred moment is b.L^3/12.
  const centred = to.moment_N_s2 - from.moment_N_s2 - middle_s * (to.impulse_N_s - from.impulse_N_s);
  return (12 * centred) / length_s ** 3;
}
