/**
 * Two presets, far apart. Common practice, no source: at a loss of 40 % in continuous repetitions a strong and
 * fast-fatiguing athlete is done in about five or six, a fatigue-resistant one needs ten to fifteen, or two minutes and
 * more. Their F and R are chosen so that they land there, each at the tempo set for them; r = 15 as for large joints.
 */
import type { FatigueParameters } from "./fatigue.ts";
import { type Program, strokesOf } from "./program.ts";
import type { Trainee } from "./trainee.ts";

const FAST_FATIGUING: FatigueParameters = { F_per_s: 0.03, R_per_s: 0.0024, rest_multiplier: 15 };
const FATIGUE_RESISTANT: FatigueParameters = { F_per_s: 0.0053, R_per_s: 0.0006, rest_multiplier: 15 };

const PERSON = {
  level: 1,
  ramp_s: 0.25,
  starts_after_s: [1, 2],
  reaction_s: 0.35,
  lasts_at_most_s: 290,
  slack: 0.01,
  wavering: 0.012,
  tremor: 0.006,
  resting_force_N: 6,
} as const satisfies Partial<Trainee>;

/** A trainee whose isometric strength is `strength_N`, with the usual ratios between muscle actions. */
export function trainee(
  code: string,
  strength_N: number,
  muscle: FatigueParameters,
  program: Program,
  differing: Partial<Trainee> = {},
): Trainee {
  return {
    ...PERSON,
    code,
    // Eccentric strength lies about 20..60 % above concentric (Hollander et al. 2007); isometric in between.
    strength_N: { concentric: 0.85 * strength_N, eccentric: 1.15 * strength_N, isometric: strength_N },
    muscle,
    strokes: strokesOf(program),
    ...differing,
  };
}

/** Strong and fast-fatiguing, in quick repetitions unless told otherwise. */
export function strongFastFatiguing(
  code: string,
  program: Program = { style: "continuous", concentric_s: 2, eccentric_s: 2.2, turn_s: 0.5 },
): Trainee {
  return trainee(code, 3000, FAST_FATIGUING, program);
}

/** Fatigue-resistant, in slow repetitions unless told otherwise. */
export function fatigueResistant(
  code: string,
  program: Program = { style: "continuous", concentric_s: 4, eccentric_s: 5, turn_s: 0.5 },
): Trainee {
  return trainee(code, 1700, FATIGUE_RESISTANT, program);
}
