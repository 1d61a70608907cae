/**
 * Numbers for people. What a field holds is read off its name, whose end is its unit, so one rule serves every message.
 * Forces come in N and are shown in the unit of the house; fractions come as 0..1 and are shown in percent.
 */
import { sayInstant } from "../drawing/instants.ts";
import { type House, sayForce, sayPercent, saySeconds } from "../drawing/quantities.ts";

export { type House, sayForce, sayPercent, saySeconds } from "../drawing/quantities.ts";

const FRACTIONS = new Set([
  "fatigue_threshold",
  "force_loss",
  "force_loss_today",
  "force_loss_uncertainty",
  "force_reserve",
]);

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
