/**
 * Numbers for people. What a field holds is read off its name, whose end is its unit, so one rule serves every message.
 * Forces come in N and are shown in the unit of the house; fractions come as 0..1 and are shown in percent.
 */
import { type ForceUnit, fromNewtons } from "../../protocol/units.ts";
import { sayInstant } from "./instants.ts";

export interface House {
  readonly unit: ForceUnit;
  /** IANA name. */
  readonly time_zone: string;
}

const FRACTIONS = new Set([
  "fatigue_threshold",
  "force_loss",
  "force_loss_today",
  "force_loss_uncertainty",
  "force_reserve",
]);

/** Force with its unit; `-` where it is not known. */
export const sayForce = (force_N: number | null, { unit }: House, decimals = 1): string =>
  force_N === null ? "-" : `${fixed(fromNewtons(force_N, unit), decimals)} ${unit}`;

/** A little below nothing is nothing: a sensor at rest must not flicker between 0 and -0. */
const fixed = (value: number, decimals: number): string => value.toFixed(decimals).replace(/^-(?=0(\.0*)?$)/, "");

export const sayPercent = (fraction: number | null, decimals = 0): string =>
  fraction === null ? "-" : `${fixed(fraction * 100, decimals)} %`;

export const saySeconds = (time_s: number | null, decimals = 1): string =>
  time_s === null ? "-" : `${time_s.toFixed(decimals)} s`;

/** A field's name without its unit, in words. */
export const sayName = (name: string): string =>
  name.replace(/(?<!_per)_(N_s|m_s2|N|s|Hz|at)$/, "").replaceAll("_", " ");

export function sayField(name: string, value: unknown, house: House): string {
  if (value === null || value === undefined) return "-";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "string") return name.endsWith("_at") ? sayInstant(value, house.time_zone) : value;
  if (typeof value !== "number") return JSON.stringify(value);
  if (FRACTIONS.has(name)) return value > 0 && value < 0.001 ? `${sayPercent(value, 2)}` : sayPercent(value, 1);
  if (name === "counts_per_N") return `${Number(value.toPrecision(6))} counts/N`;
  if (name.endsWith("_counts")) return value.toFixed(1);
  if (name.endsWith("_per_s")) return `${sayPercent(value, 2)} of best`;
  if (name.endsWith("_per_effort")) return `${sayPercent(value, 2)} of best`;
  if (name.endsWith("_m_s2")) return `${value.toFixed(4)} m/s2`;
  if (name.endsWith("_N_s")) return `${sayForce(value, house, 0)} s`;
  if (name === "noise_N") return sayForce(value, house, 3);
  if (name.endsWith("_N")) return sayForce(value, house);
  if (name.endsWith("_Hz")) return `${value.toFixed(1)} Hz`;
  if (name.endsWith("_s")) return saySeconds(value);
  return String(value);
}
