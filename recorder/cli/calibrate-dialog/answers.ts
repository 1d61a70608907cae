/** What somebody answers, read: how well a load is known, the lever's angle, until when. Pure; a refusal is a sentence. */
import { classTolerance, MASS_CLASSES, massClassOf } from "../../../calibration/procedure/mass-classes.ts";
import { instantOf, sayInstant } from "../../drawing/instants.ts";
import { type LoadAmount, readDecimal } from "../load-words.ts";

export type Read<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly message: string };

const good = <T>(value: T): Read<T> => ({ ok: true, value });
const bad = (message: string): { readonly ok: false; readonly message: string } => ({ ok: false, message });

/** As the verbs take it at most. */
const LARGEST_PERCENT = 10;

/** `M1`, or `0.5 %`; the half-width as a fraction of the load. */
export function readTolerance(typed: string, amount: LoadAmount): Read<number> {
  if (massClassOf(typed) !== null) {
    if (!("mass_kg" in amount)) return bad("Classes are of masses: give the tolerance of a force as a percentage.");
    const found = classTolerance(typed, amount.mass_kg);
    return found.ok ? good(found.relative_tolerance) : found;
  }
  const [, digits] = /^([\d.,]+)\s*%?$/.exec(typed) ?? [];
  if (digits === undefined) {
    return bad(`${typed} is neither a class (${MASS_CLASSES.join(", ")}) nor a percentage such as 0.5.`);
  }
  const number = readDecimal(digits);
  if (!number.ok) return number;
  if (Number(number.decimal) > LARGEST_PERCENT)
    return bad(`A load known to ${digits} % is no load to go by: weigh it.`);
  return good(Number(`${number.decimal}e-2`));
}

/** As the verbs take it at most. */
const STEEPEST_DEG = 80;

/** Degrees to the level, either way. */
export function readAngle(typed: string): Read<number> {
  const [, sign = "", digits = ""] = /^([-+]?)([\d.,]+)\s*(?:°|deg)?$/.exec(typed) ?? [];
  const number = readDecimal(digits);
  if (!number.ok) return bad(`${typed} is no angle: give degrees, such as 0 or -5.`);
  const angle_deg = Number(`${sign}${number.decimal}`);
  if (Math.abs(angle_deg) <= STEEPEST_DEG) return good(angle_deg + 0);
  return bad(`At ${typed} degrees next to nothing pulls across the lever: level it.`);
}

/** The same day so many months on; at the end of a shorter month, its last. `2027-02-28` from `2026-12-31` and 2. */
export function monthsOn(day: string, months: number): string {
  const [year = 0, month = 1, date = 1] = day.split("-").map(Number);
  const last = new Date(Date.UTC(year, month + months, 0)).getUTCDate();
  return new Date(Date.UTC(year, month - 1 + months, Math.min(date, last))).toISOString().slice(0, 10);
}

export const dayOf = (at_ms: number, time_zone: string): string =>
  sayInstant(new Date(at_ms).toISOString(), time_zone).slice(0, 10);

/** Ten years; a longer promise is none. */
const MOST_MONTHS = 120;

/** A day, or a number of months from `today`; the first instant of that day as the recorder takes it. */
export function readDue(typed: string, today: string, time_zone: string): Read<string> {
  const [, months] = /^(\d{1,3})(?: *months?)?$/.exec(typed) ?? [];
  if (months !== undefined && (Number(months) < 1 || Number(months) > MOST_MONTHS)) {
    return bad(`${months} months will not do: give 1 to ${MOST_MONTHS}, or a day.`);
  }
  const day = months === undefined ? typed : monthsOn(today, Number(months));
  // A day that is not in the calendar would silently be a later one.
  if (!/^\d{4}-\d{2}-\d{2}$/.test(day) || monthsOn(day, 0) !== day) {
    return bad(`${typed} is no day: write it as ${monthsOn(today, 12)}, or a number of months.`);
  }
  if (day <= today) return bad(`${day} is not after today, ${today}: give a later day.`);
  return good(instantOf(day, time_zone, "start"));
}
