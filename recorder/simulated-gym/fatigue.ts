/**
 * How a muscle tires and recovers: the three-compartment controller model with rest recovery (3CC-r).
 *
 * Each motor unit is active, resting or fatigued; the three fractions add up to 1. A controller recruits resting units
 * towards the wanted load; active units fatigue at F, fatigued ones recover at R, r times faster at rest.
 *   d active   =  C - F active
 *   d fatigued =  F active - R fatigued
 *   d resting  = -C + R fatigued
 * Source: Xia & Frey-Law, J Biomech 41 (2008) 3046; rest recovery: Looft et al., J Biomech 77 (2018) 16.
 * Lengthening muscle is the same muscle here: the model knows no difference between muscle actions.
 */

/** Fractions of the whole muscle, 0..1. */
export interface Compartments {
  readonly active: number;
  readonly resting: number;
  readonly fatigued: number;
}

export interface FatigueParameters {
  readonly F_per_s: number;
  readonly R_per_s: number;
  /** r: how much faster fatigued units recover while nothing is asked of the muscle. */
  readonly rest_multiplier: number;
}

/**
 * F and R: Frey-Law, Looft & Heitsman, J Biomech 45 (2012) 1803, table 1 (the abstract in circulation pairs some of them
 * wrongly; these agree with the paper's endurance times). r: Looft et al. 2018; shoulder: Looft & Frey-Law 2020. For the
 * trunk no r was found; 15, that of the other large joints, is assumed.
 */
export const JOINT_REGIONS = {
  ankle: { F_per_s: 0.00589, R_per_s: 0.00058, rest_multiplier: 15 },
  knee: { F_per_s: 0.015, R_per_s: 0.00149, rest_multiplier: 15 },
  trunk: { F_per_s: 0.00755, R_per_s: 0.00075, rest_multiplier: 15 },
  shoulder: { F_per_s: 0.0182, R_per_s: 0.00168, rest_multiplier: 15 },
  elbow: { F_per_s: 0.00912, R_per_s: 0.00094, rest_multiplier: 15 },
  grip: { F_per_s: 0.0098, R_per_s: 0.00064, rest_multiplier: 30 },
  general: { F_per_s: 0.0097, R_per_s: 0.00091, rest_multiplier: 15 },
} as const satisfies Record<string, FatigueParameters>;
export type JointRegion = keyof typeof JOINT_REGIONS;

/** Rates at which units are recruited and released, 1/s (Xia & Frey-Law 2008: LD = LR = 10). */
const LD_PER_S = 10;
const LR_PER_S = 10;

/** Recruiting decays at 10 /s: over 12.5 ms a fourth-order step errs by about (0.125)^5 / 120 = 3e-7 of the change. */
const LONGEST_STEP_S = 0.0125;

export const FRESH: Compartments = { active: 0, resting: 1, fatigued: 0 };

/** The fraction of its fresh strength the muscle could still give: what is not fatigued. */
export function strengthLeft(now: Compartments): number {
  return 1 - now.fatigued;
}

/** The compartments after `elapsed_s` at a wanted load of `target` (0..1 of the fresh maximum). */
export function tire(now: Compartments, target: number, elapsed_s: number, muscle: FatigueParameters): Compartments {
  const steps = Math.max(1, Math.ceil(elapsed_s / LONGEST_STEP_S - 1e-9));
  const h = elapsed_s / steps;
  const recovery_per_s = muscle.R_per_s * (target === 0 ? muscle.rest_multiplier : 1);
  const activeRate = (active: number, fatigued: number): number =>
    recruiting(active, 1 - active - fatigued, target) - muscle.F_per_s * active;
  const fatiguedRate = (active: number, fatigued: number): number =>
    muscle.F_per_s * active - recovery_per_s * fatigued;
  let a = now.active;
  let f = now.fatigued;
  // Runge and Kutta's fourth-order step.
  for (let step = 0; step < steps; step++) {
    const a1 = activeRate(a, f);
    const f1 = fatiguedRate(a, f);
    const a2 = activeRate(a + (h / 2) * a1, f + (h / 2) * f1);
    const f2 = fatiguedRate(a + (h / 2) * a1, f + (h / 2) * f1);
    const a3 = activeRate(a + (h / 2) * a2, f + (h / 2) * f2);
    const f3 = fatiguedRate(a + (h / 2) * a2, f + (h / 2) * f2);
    const a4 = activeRate(a + h * a3, f + h * f3);
    const f4 = fatiguedRate(a + h * a3, f + h * f3);
    a += (h / 6) * (a1 + 2 * a2 + 2 * a3 + a4);
    f += (h / 6) * (f1 + 2 * f2 + 2 * f3 + f4);
  }
  return { active: a, resting: 1 - a - f, fatigued: f };
}

/** The controller's flow C from resting to active, 1/s; negative while units are released. */
function recruiting(active: number, resting: number, target: number): number {
  if (active >= target) return LR_PER_S * (target - active);
  return LD_PER_S * Math.min(target - active, resting);
}

/** The compartments after a rest, however long. Past the first second nothing is active and recovery is exponential. */
export function recovered(now: Compartments, rest_s: number, muscle: FatigueParameters): Compartments {
  if (rest_s <= 1) return tire(now, 0, rest_s, muscle);
  const relaxed = tire(now, 0, 1, muscle);
  const fatigued = relaxed.fatigued * Math.exp(-muscle.R_per_s * muscle.rest_multiplier * (rest_s - 1));
  return { active: 0, resting: 1 - fatigued, fatigued };
}
