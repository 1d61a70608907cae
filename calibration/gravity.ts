/**
 * Local gravity and what a hung mass weighs. Pure numbers: latitude in degrees (sign does not matter), altitude in
 * metres above sea level, gravity in m/s2, mass in kg, force in N.
 *
 * Normal gravity is the ellipsoid's, not the ground's: local anomalies stay within about 2 parts in 10 000 and belong
 * in the uncertainty budget, not here.
 */

/** WGS84: normal gravity at the equator, the formula constant k, first eccentricity squared. NIMA TR8350.2, 3rd ed. */
const EQUATOR_M_S2 = 9.7803253359;
const SOMIGLIANA_K = 0.00193185265241;
const ECCENTRICITY_SQUARED = 0.00669437999013;

/** Second-order free-air correction, per m and per m2; read in a secondary source. First order: 3.086e-6 per s2. */
const FREE_AIR = { linear: 3.087691e-6, latitude: 4.3977e-9, square: 0.72125e-12 } as const;

/** Conventional densities of air and of a weight in kg/m3 (OIML D 28, from memory). Cast iron differs by 2e-5. */
const AIR_KG_M3 = 1.2;
const WEIGHT_KG_M3 = 8000;

/**
 * Half-width, as a fraction, for what a mass weighs by these numbers: local anomaly, height and latitude entered by hand, and
 * the density of the plate, together (from memory).
 */
export const GRAVITY_TOLERANCE = 2e-4;

/** Gravity of the WGS84 ellipsoid at sea level (Somigliana's closed formula), m/s2. */
export function normalGravity_m_s2(latitude_deg: number): number {
  const sine = Math.sin(radians(latitude_deg));
  const square = sine * sine;
  return (EQUATOR_M_S2 * (1 + SOMIGLIANA_K * square)) / Math.sqrt(1 - ECCENTRICITY_SQUARED * square);
}

/** Gravity at an altitude above sea level, m/s2. */
export function gravityAt_m_s2(latitude_deg: number, altitude_m: number): number {
  const sine = Math.sin(radians(latitude_deg));
  const falloff = FREE_AIR.linear - FREE_AIR.latitude * sine * sine;
  return normalGravity_m_s2(latitude_deg) - falloff * altitude_m + FREE_AIR.square * altitude_m * altitude_m;
}

export interface HungMass {
  readonly mass_kg: number;
  readonly latitude_deg: number;
  readonly altitude_m: number;
  /** Angle between the lever and the level; what it turns away from the load is lost. Absent: level, or no lever. */
  readonly lever_angle_deg?: number | undefined;
}

/** The force in N that a hanging mass puts across the lever, buoyancy of air taken off. */
export function loadForce_N(hung: HungMass): number {
  const weight_N = hung.mass_kg * gravityAt_m_s2(hung.latitude_deg, hung.altitude_m) * (1 - AIR_KG_M3 / WEIGHT_KG_M3);
  return weight_N * acrossLever(hung.lever_angle_deg ?? 0);
}

/** The part of a vertical load that acts across a lever at this angle to the level, 0..1. */
export function acrossLever(lever_angle_deg: number): number {
  return Math.cos(radians(lever_angle_deg));
}

function radians(degrees: number): number {
  return (degrees * Math.PI) / 180;
}
