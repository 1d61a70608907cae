/** Where a day begins for people at the station, which is not where it begins in UTC. */

/** Tells the local date of an instant in ms, YYYY-MM-DD. To be made once for many: making it costs more than all its answers. */
export function localDates(time_zone: string): (wall_ms: number) => string {
  const format = new Intl.DateTimeFormat("en-CA", {
    timeZone: time_zone,
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
  });
  return (wall_ms) => format.format(wall_ms);
}

/** Start of the local day that holds `wall_ms`, ISO 8601 UTC. `time_zone` is an IANA name that exists. */
export function dayStartsAt(wall_ms: number, time_zone: string): string {
  const localDate = localDates(time_zone);
  const date = localDate(wall_ms);
  // The newest moment at or before now whose local date differs from today's bounds the day from below; days have 23
  // to 25 hours, so the search takes at most 25 of them, narrowed to the millisecond.
  let before = wall_ms - 26 * 3_600_000;
  let within = wall_ms;
  while (within - before > 1) {
    const middle = Math.floor((before + within) / 2);
    if (localDate(middle) === date) within = middle;
    else before = middle;
  }
  return new Date(within).toISOString();
}
