/** Instants for people: said in the time of the house, and days typed in it. */

const DAY_MS = 86_400_000;

/** An ISO 8601 instant as `2026-11-24 18:03:12` in a time zone; what is not an instant is said as it is. */
export function sayInstant(instant: string, time_zone: string): string {
  const at_ms = Date.parse(instant);
  if (Number.isNaN(at_ms)) return instant;
  return new Date(at_ms + offset_ms(at_ms, time_zone)).toISOString().slice(0, 19).replace("T", " ");
}

/**
 * What a person typed for a time: a day (`2026-11-24`) is its first instant in the time zone or, as an end, the first
 * instant after it; anything else is taken as it is.
 */
export function instantOf(typed: string, time_zone: string, edge: "start" | "end"): string {
  if (!/^\d{4}-\d{2}-\d{2}$/.test(typed)) return typed;
  const midnight_ms = Date.parse(`${typed}T00:00:00Z`);
  if (Number.isNaN(midnight_ms)) return typed;
  const local_ms = midnight_ms + (edge === "end" ? DAY_MS : 0);
  // Where the clocks change near midnight, the offset at the first guess may be that of the other side.
  const guess_ms = local_ms - offset_ms(local_ms, time_zone);
  return new Date(local_ms - offset_ms(guess_ms, time_zone)).toISOString();
}

/** How far the zone's clocks are ahead of UTC at an instant. */
function offset_ms(at_ms: number, time_zone: string): number {
  const parts = new Intl.DateTimeFormat("en", { timeZone: time_zone, timeZoneName: "longOffset" }).formatToParts(at_ms);
  const name = parts.find(({ type }) => type === "timeZoneName")?.value ?? "GMT";
  const [, sign, hours, minutes, seconds = "0"] = /([+-])(\d{2}):(\d{2})(?::(\d{2}))?/.exec(name) ?? [];
  if (sign === undefined) return 0;
  return (sign === "-" ? -1000 : 1000) * (Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds));
}
