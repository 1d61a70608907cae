/**
 * How well a mass of a stated class is known: the maximum permissible errors of OIML R 111-1:2004, table 1. The standard
 * itself was not read. M1 to M3 from 1 g to 50 kg were read in a national ordinance that quotes it (Greece, market rules,
 * article 146), the others up to 5 kg in a calibration laboratory's copy of the table; what is left is from memory.
 *
 * The limit is that of a weight on the day it was verified: what was dropped or went rusty since is not of its class.
 */

export const MASS_CLASSES = ["E1", "E2", "F1", "F2", "M1", "M2", "M3"] as const;
export type MassClass = (typeof MASS_CLASSES)[number];

/** Nominal mass in kg, then its limit in mg by class in the order above; null: the class has no such weight. */
type Row = readonly [number, ...(number | null)[]];
const TABLE: readonly Row[] = [
  [0.001, 0.01, 0.03, 0.1, 0.3, 1, 3, 10],
  [0.002, 0.012, 0.04, 0.12, 0.4, 1.2, 4, 12],
  [0.005, 0.016, 0.05, 0.16, 0.5, 1.6, 5, 16],
  [0.01, 0.02, 0.06, 0.2, 0.6, 2, 6, 20],
  [0.02, 0.025, 0.08, 0.25, 0.8, 2.5, 8, 25],
  [0.05, 0.03, 0.1, 0.3, 1, 3, 10, 30],
  [0.1, 0.05, 0.16, 0.5, 1.6, 5, 16, 50],
  [0.2, 0.1, 0.3, 1, 3, 10, 30, 100],
  [0.5, 0.25, 0.8, 2.5, 8, 25, 80, 250],
  [1, 0.5, 1.6, 5, 16, 50, 160, 500],
  [2, 1, 3, 10, 30, 100, 300, 1000],
  [5, 2.5, 8, 25, 80, 250, 800, 2500],
  [10, 5, 16, 50, 160, 500, 1600, 5000],
  [20, 10, 30, 100, 300, 1000, 3000, 10_000],
  [50, 25, 80, 250, 800, 2500, 8000, 25_000],
  [100, null, 160, 500, 1600, 5000, 16_000, 50_000],
  [200, null, 300, 1000, 3000, 10_000, 30_000, 100_000],
  [500, null, 800, 2500, 8000, 25_000, 80_000, 250_000],
  [1000, null, 1600, 5000, 16_000, 50_000, 160_000, 500_000],
  [2000, null, null, 10_000, 30_000, 100_000, 300_000, 1_000_000],
  [5000, null, null, 25_000, 80_000, 250_000, 800_000, 2_500_000],
];

export type ClassTolerance =
  /** Half-width, as a fraction of the mass. */
  { readonly ok: true; readonly relative_tolerance: number } | { readonly ok: false; readonly message: string };

/** The class somebody typed, in either case; null: none of that name. */
export function massClassOf(typed: string): MassClass | null {
  const name = typed.trim().toUpperCase();
  return MASS_CLASSES.find((known) => known === name) ?? null;
}

/**
 * The tolerance of a mass of this class; the class as somebody typed it. Between two nominal values the worse of their
 * fractions holds: what hangs is then made of several weights, whose limits add up. Beyond the largest and below the
 * smallest weight of its class nothing is known, for the table is not to be extended.
 */
export function classTolerance(typed: string, mass_kg: number): ClassTolerance {
  const mass_class = massClassOf(typed);
  if (mass_class === null) {
    return { ok: false, message: `${typed} is no class of weights: use one of ${MASS_CLASSES.join(", ")}.` };
  }
  const limits = limitsOf(mass_class);
  const above = limits.find((limit) => limit.mass_kg >= mass_kg);
  const below = limits.findLast((limit) => limit.mass_kg <= mass_kg);
  if (above === undefined || below === undefined) {
    const [least, most] = [limits[0]?.mass_kg, limits.at(-1)?.mass_kg];
    return {
      ok: false,
      message: `Class ${mass_class} has weights from ${least} to ${most} kg: give the tolerance as a percentage.`,
    };
  }
  return { ok: true, relative_tolerance: Math.max(below.fraction, above.fraction) };
}

function limitsOf(mass_class: MassClass): readonly { readonly mass_kg: number; readonly fraction: number }[] {
  const column = MASS_CLASSES.indexOf(mass_class);
  return TABLE.flatMap(([mass_kg, ...errors_mg]) => {
    const error_mg = errors_mg[column] ?? null;
    return error_mg === null ? [] : [{ mass_kg, fraction: error_mg / (mass_kg * 1e6) }];
  });
}
