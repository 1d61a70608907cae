/** Quantities for people: forces come in N and are shown in the unit of the house, fractions 0..1 in percent. */
import { type ForceUnit, fromNewtons } from "../../protocol/units.ts";

export interface House {
  readonly unit: ForceUnit;
  /** IANA name. */
  readonly time_zone: string;
}

/** Force with its unit; `-` where it is not known. */
export const sayForce = (force_N: number | null, { unit }: House, decimals = 1): string =>
  force_N === null ? "-" : `${fixed(fromNewtons(force_N, unit), decimals)} ${unit}`;

/** A little below nothing is nothing: a sensor at rest must not flicker between 0 and -0. */
const fixed = (value: number, decimals: number): string => value.toFixed(decimals).replace(/^-(?=0(\.0*)?$)/, "");

export const sayPercent = (fraction: number | null, decimals = 0): string =>
  fraction === null ? "-" : `${fixed(fraction * 100, decimals)} %`;

export const saySeconds = (time_s: number | null, decimals = 1): string =>
  time_s === null ? "-" : `${time_s.toFixed(decimals)} s`;
