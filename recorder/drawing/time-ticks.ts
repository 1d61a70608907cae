/** Dates and hours on an axis, in the time of the house. */
import { instantOf, sayInstant } from "./instants.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

export interface TimeTick {
  readonly at_ms: number;
  readonly text: string;
}

const STEPS_H = [1, 2, 3, 6, 12];
const STEPS_D = [1, 2, 7, 14, 28, 91, 182, 364];

/** At most `most` ticks: local midnights with their date, or full hours of them where the whole is a day or two. */
export function timeTicks(from_ms: number, to_ms: number, time_zone: string, most: number): readonly TimeTick[] {
  const fits = (step_ms: number): boolean => (to_ms - from_ms) / step_ms <= most;
  const hours = STEPS_H.find((step) => fits(step * HOUR_MS));
  const days =
    STEPS_D.find((step) => fits(step * DAY_MS)) ?? 364 * Math.ceil((to_ms - from_ms) / (364 * DAY_MS * most));
  const first_day_ms = Date.parse(`${dayOf(from_ms, time_zone)}T00:00:00Z`);
  const found: TimeTick[] = [];
  const step_d = hours === undefined ? days : 1;
  for (let day_ms = first_day_ms; ; day_ms += step_d * DAY_MS) {
    const day = new Date(day_ms).toISOString().slice(0, 10);
    // Midnight is the zone's, so days stay days when its clocks change.
    const midnight_ms = Date.parse(instantOf(day, time_zone, "start"));
    if (midnight_ms > to_ms) return dated(found, time_zone);
    for (let hour = 0; hour < 24; hour += hours ?? 24) {
      const at_ms = midnight_ms + hour * HOUR_MS;
      const said = sayInstant(new Date(at_ms).toISOString(), time_zone);
      if (at_ms < from_ms || at_ms > to_ms || !said.startsWith(day)) continue;
      found.push({ at_ms, text: hour === 0 ? day : said.slice(11, 16) });
    }
  }
}

/** Of hours the first says of which day they are. */
function dated([first, ...more]: readonly TimeTick[], time_zone: string): readonly TimeTick[] {
  if (first === undefined) return [];
  const { at_ms } = first;
  const text = first.text.includes(":")
    ? sayInstant(new Date(at_ms).toISOString(), time_zone).slice(0, 16)
    : first.text;
  return [{ at_ms, text }, ...more];
}

const dayOf = (at_ms: number, time_zone: string): string =>
  sayInstant(new Date(at_ms).toISOString(), time_zone).slice(0, 10);
