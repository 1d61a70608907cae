/**
 * Units at the edges of the program, and the one rounding on the way out.
 *
 * Inside, force is a double in newtons (N), time a whole number of device microseconds (us), mass kilograms (kg).
 * Force is positive when the trainee works against the machine. Nothing here has state.
 */

/** Standard gravity in m/s2, exact: 3rd General Conference on Weights and Measures, 1901. */
export const STANDARD_GRAVITY_M_S2 = 9.80665;
/** One avoirdupois pound in kg, exact: international yard and pound agreement, 1959. */
export const POUND_KG = 0.45359237;
/** One kilogram-force in N, exact by definition from standard gravity. */
export const KGF_N = STANDARD_GRAVITY_M_S2;
/** One pound-force in N, exact: 0.45359237 kg x 9.80665 m/s2 = 4.4482216152605 N. */
export const LBF_N = 4.4482216152605;

/** The ends of signed 24-bit counts: an amplifier that gives one is saturated, and it is never a force. HX711 datasheet: 7FFFFFh, 800000h. */
export const SATURATED_HIGH_COUNTS = 8_388_607;
export const SATURATED_LOW_COUNTS = -8_388_608;

export type ForceUnit = "N" | "kgf" | "lbf";

const NEWTONS_PER: Readonly<Record<ForceUnit, number>> = { N: 1, kgf: KGF_N, lbf: LBF_N };

/** Force in N, as a number of `unit`. */
export function fromNewtons(force_N: number, unit: ForceUnit): number {
  return force_N / NEWTONS_PER[unit];
}

/** Rounded for the wire; null where the value is not a finite number. Minus zero becomes zero. */
function rounded(value: number | null, perUnit: number): number | null {
  if (value === null || !Number.isFinite(value)) return null;
  return Math.round(value * perUnit) / perUnit + 0;
}

/** Force for a message: 0.01 N. */
export const forceOut = (force_N: number | null): number | null => rounded(force_N, 100);
/** Noise for a message: 0.1 mN, since a good sensor's lies under what a force is rounded to. */
export const noiseOut = (noise_N: number | null): number | null => rounded(noise_N, 10_000);
/** Seconds for a message: 1 ms. */
export const timeOut = (time_s: number | null): number | null => rounded(time_s, 1000);
/** A fraction for a message: 1e-4. */
export const fractionOut = (fraction: number | null): number | null => rounded(fraction, 10_000);
/** Whatever else is measured, such as readings a second or an impulse: 0.01 of its unit. */
export const measureOut = (value: number | null): number | null => rounded(value, 100);
