import { describe, expect, it } from "vitest";
import { dayStartsAt } from "../../recorder/local-day.ts";

const start = (instant: string, zone: string): string => dayStartsAt(Date.parse(instant), zone);

describe("the start of the local day", () => {
  it.each([
    ["UTC", "2026-11-24T09:31:07.123Z", "2026-11-24T00:00:00.000Z"],
    ["Europe/Lisbon", "2026-11-24T09:31:07.123Z", "2026-11-24T00:00:00.000Z"],
    ["Asia/Tokyo", "2026-11-24T09:31:07.123Z", "2026-11-23T15:00:00.000Z"],
    ["America/New_York", "2026-11-24T04:59:59.999Z", "2026-11-23T05:00:00.000Z"],
    ["America/New_York", "2026-11-24T05:00:00.000Z", "2026-11-24T05:00:00.000Z"],
    ["Asia/Kathmandu", "2026-11-24T18:14:59.999Z", "2026-11-23T18:15:00.000Z"],
    ["Asia/Kathmandu", "2026-11-24T18:15:00.000Z", "2026-11-24T18:15:00.000Z"],
  ])("%s at %s: %s", (zone, instant, expected) => expect(start(instant, zone)).toBe(expected));

  // European Union: at 01:00 UTC on the last Sundays of March and October (Directive 2000/84/EC).
  it.each([
    ["a day of 23 hours, before the change", "2026-03-29T00:30:00.000Z", "2026-03-28T23:00:00.000Z"],
    ["a day of 23 hours, after it", "2026-03-29T20:00:00.000Z", "2026-03-28T23:00:00.000Z"],
    ["the day after", "2026-03-29T22:00:00.000Z", "2026-03-29T22:00:00.000Z"],
    ["a day of 25 hours, before the change", "2026-10-25T00:30:00.000Z", "2026-10-24T22:00:00.000Z"],
    ["a day of 25 hours, in its last minute", "2026-10-25T22:59:00.000Z", "2026-10-24T22:00:00.000Z"],
    ["the day after that", "2026-10-25T23:00:00.000Z", "2026-10-25T23:00:00.000Z"],
  ])("Europe/Berlin, %s", (_what, instant, expected) => expect(start(instant, "Europe/Berlin")).toBe(expected));

  it("where the clock goes forward at midnight the day starts at one", () => {
    // Beirut, 29 March 2026: 00:00 becomes 01:00 (IANA time zone database, rule Lebanon).
    expect(start("2026-03-29T12:00:00.000Z", "Asia/Beirut")).toBe("2026-03-28T22:00:00.000Z");
  });

  it("agrees with the calendar for every hour of a year: the date changes there and nowhere else", () => {
    const zone = "Europe/Lisbon";
    const dateOf = (ms: number): string => new Intl.DateTimeFormat("en-CA", { timeZone: zone }).format(ms);
    for (let ms = Date.UTC(2026, 0, 1); ms < Date.UTC(2026, 11, 31); ms += 41 * 3_600_000) {
      const start_ms = Date.parse(dayStartsAt(ms, zone));
      expect(start_ms).toBeLessThanOrEqual(ms);
      expect(dateOf(start_ms)).toBe(dateOf(ms));
      expect(dateOf(start_ms - 1)).not.toBe(dateOf(ms));
    }
  });
});
