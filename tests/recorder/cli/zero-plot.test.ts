import { describe, expect, it } from "vitest";
import { type ZeroEntry, type ZeroPlotOptions, zeroPlot } from "../../../recorder/cli/zero-plot.ts";
import { zeroText } from "../../../recorder/cli/zero-text.ts";
import { timeTicks } from "../../../recorder/drawing/time-ticks.ts";

const OPTIONS: ZeroPlotOptions = { unit: "N", time_zone: "Europe/Lisbon", capacity_N: 5000 };
const HOUR_MS = 3_600_000;
const BEGINS_MS = Date.parse("2026-11-02T08:00:00.000Z");
const ONE = "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d11";
const OTHER = "7f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d11";

const entry = (hours: number, zero_shift_N: number | null, more: Partial<ZeroEntry> = {}): ZeroEntry => ({
  at: new Date(BEGINS_MS + hours * HOUR_MS).toISOString(),
  calibration_id: ONE,
  shift_counts: (zero_shift_N ?? 0) * 400,
  zero_shift_N,
  cause: "tracked",
  performed_by: null,
  ...more,
});

/** A week that drifts, an asked zero that was put back, and another calibration. */
const WEEK: readonly ZeroEntry[] = [
  ...Array.from({ length: 24 }, (_, index) => entry(4 * index, 0.25 * index)),
  entry(96, 20, { cause: "asked", performed_by: "tech-1" }),
  entry(96.01, 6, { cause: "restored" }),
  ...Array.from({ length: 12 }, (_, index) => entry(120 + 4 * index, -0.1 * index, { calibration_id: OTHER })),
];

const all = (svg: string, pattern: RegExp): RegExpExecArray[] => [...svg.matchAll(pattern)];
const count = (svg: string, pattern: RegExp): number => all(svg, pattern).length;

/** Elements closed in the order they were opened; throws otherwise. */
function wellFormed(svg: string): boolean {
  const open: string[] = [];
  for (const [, closing, name, alone] of svg.matchAll(/<(\/?)([a-zA-Z]+)(?:\s[a-zA-Z-]+="[^"<]*")*\s*(\/?)>/g)) {
    if (closing === "/" && open.pop() !== name) return false;
    if (closing !== "/" && alone !== "/") open.push(name as string);
  }
  return open.length === 0 && !/<(?!\/?[a-zA-Z])/.test(svg);
}

describe("the plot of a zero", () => {
  it("is one SVG of its own that says in words what it shows", () => {
    const svg = zeroPlot(WEEK, OPTIONS);
    expect(wellFormed(svg)).toBe(true);
    expect(svg).toMatch(/^<svg xmlns="http:\/\/www\.w3\.org\/2000\/svg" viewBox="0 0 800 360" role="img"/);
    expect(svg).not.toMatch(/href|url\(|<script|<style|@import/);
    expect(svg).toContain(
      'aria-label="Zero over time in N, 2026-11-02 to 2026-11-09; -1.1 N from the calibrated zero at the end"',
    );
  });

  it("tells tracked, asked for and put back apart by shape, and has nothing but greys", () => {
    const svg = zeroPlot(WEEK, OPTIONS);
    expect(count(svg, /<g><title>asked by tech-1, 2026-11-06 08:00:00: 20\.0 N<\/title><circle/g)).toBe(1);
    expect(count(svg, /<g><title>restored, 2026-11-06 08:00:36: 6\.0 N<\/title><rect/g)).toBe(1);
    expect(count(svg, /<g><title>tracked/g)).toBe(36);
    for (const word of ["tracked", "asked for", "put back: a hand was on it"]) expect(svg).toContain(`>${word}</text>`);
    for (const [, colour] of all(svg, /(?:fill|stroke)="([^"]+)"/g)) {
      expect(colour).toMatch(/^(none|#(\w)\2\2)$/);
    }
  });

  it("puts each where its moment and its force are on the axes", () => {
    const svg = zeroPlot(WEEK, OPTIONS);
    const levels = all(svg, /y="([\d.]+)" text-anchor="end">(-?\d+)<\/text>/g).map(([, y, tick]) => [
      Number(tick),
      Number(y) - 4,
    ]);
    const [low, high] = [levels[0], levels.at(-1)] as [number[], number[]];
    const perN = ((high[1] as number) - (low[1] as number)) / ((high[0] as number) - (low[0] as number));
    const y = (force_N: number): number => (low[1] as number) + perN * (force_N - (low[0] as number));
    const [asked] = all(svg, /asked by[^>]*<\/title><circle cx="([\d.]+)" cy="([\d.]+)"/g);
    expect(Number(asked?.[2])).toBeCloseTo(y(20), 1);
    // From hour 0 to hour 164, over 712 wide from 64.
    expect(Number(asked?.[1])).toBeCloseTo(64 + (712 * 96) / 164, 1);
    expect(svg).toContain(`V${Number(y(20).toFixed(2))}`);
  });

  it("breaks the line at another calibration, with a line across where it came", () => {
    const svg = zeroPlot(WEEK, OPTIONS);
    expect(count(svg, />calibrated<\/text>/g)).toBe(1);
    expect(count(/<path d="([^"]*)" fill="none"/.exec(svg)?.[1] ?? "", /M/g)).toBe(2);
    const in_force_since = [
      { at: entry(110, 0).at, calibration_id: OTHER },
      { at: entry(-500, 0).at, calibration_id: ONE },
    ];
    const known = zeroPlot(WEEK, { ...OPTIONS, in_force_since });
    const [across] = all(known, /<line x1="([\d.]+)" [^>]*stroke-dasharray="10 4 2 4"/g);
    expect(Number(across?.[1])).toBeCloseTo(64 + (712 * 110) / 164, 1);
  });

  it("shows a limit once the zero is more than half the way to it, and where it is counted from", () => {
    // 2 % of capacity is 100 N, 4 % is 200 N.
    const drift = (to_N: number): ZeroEntry[] => Array.from({ length: 11 }, (_, i) => entry(10 * i, (to_N * i) / 10));
    expect(zeroPlot(drift(49), OPTIONS)).not.toContain("%");
    const tracked = zeroPlot(drift(51), OPTIONS);
    expect(tracked).toContain("2 % of capacity: as far as tracking goes");
    expect(tracked).not.toContain("4 %");
    expect(zeroPlot(drift(-101), OPTIONS)).toContain("4 % of capacity from the calibrated zero");
    const since = [...drift(60), entry(101, 60, { cause: "asked" }), entry(150, 115)];
    expect(zeroPlot(since, OPTIONS)).toContain("2 % from the last asked zero");
    expect(zeroPlot(since.slice(0, -1), OPTIONS)).not.toContain("2 %");
  });

  it("is in the unit of the house", () => {
    const svg = zeroPlot([entry(0, 0), entry(50, 9.80665)], { ...OPTIONS, unit: "kgf" });
    expect(svg).toContain("zero from the calibrated one, kgf");
    expect(svg).toContain('text-anchor="end">1</text>');
    expect(svg).toContain("1.0 kgf from the calibrated zero at the end");
  });

  it("takes what a person wrote for text, whatever it looks like", () => {
    const svg = zeroPlot([entry(0, 1), entry(5, 2, { cause: "asked", performed_by: '<b a="1">&' })], OPTIONS);
    expect(wellFormed(svg)).toBe(true);
    expect(svg).toContain("asked by &lt;b a=&quot;1&quot;&gt;&amp;");
  });

  it("of one movement, of none, and of zeros of a record that is gone, says what there is", () => {
    const one = zeroPlot([entry(0, 6)], OPTIONS);
    expect(wellFormed(one)).toBe(true);
    expect(one).not.toMatch(/NaN|Infinity/);
    expect(one).toMatch(/>2026-11-02 0\d:\d\d</);
    for (const nothing of [[], [entry(0, null)]]) {
      expect(zeroPlot(nothing, OPTIONS)).toContain(">No zero has been saved here yet.</text>");
      expect(zeroText(nothing, OPTIONS)).toBe("no zero has been saved here yet");
    }
  });

  it("of the half year of a zero that never rests stays small", () => {
    const many = Array.from({ length: 20_000 }, (_, index) => entry(index / 4, 10 * Math.sin(index / 90)));
    const svg = zeroPlot(many, OPTIONS);
    expect(svg.length).toBeLessThan(60_000);
    expect(zeroText(many, OPTIONS).length).toBeLessThan(2000);
  });
});

describe("the time axis", () => {
  const DAY_MS = 24 * HOUR_MS;

  it("has the midnights of the house, also where its clocks change", () => {
    // Lisbon's clocks went back an hour on 2026-10-25, a day of 25 hours (IANA time zone database).
    const from_ms = Date.parse("2026-10-23T12:00:00Z");
    const found = timeTicks(from_ms, from_ms + 4 * DAY_MS, "Europe/Lisbon", 4);
    expect(found.map(({ at_ms, text }) => [new Date(at_ms).toISOString(), text])).toEqual([
      ["2026-10-23T23:00:00.000Z", "2026-10-24"],
      ["2026-10-24T23:00:00.000Z", "2026-10-25"],
      ["2026-10-26T00:00:00.000Z", "2026-10-26"],
      ["2026-10-27T00:00:00.000Z", "2026-10-27"],
    ]);
  });

  it("has hours for a day and whole weeks for a season, and never too many", () => {
    const hours = timeTicks(BEGINS_MS, BEGINS_MS + 12 * HOUR_MS, "UTC", 6).map(({ text }) => text);
    expect(hours).toEqual(["2026-11-02 08:00", "10:00", "12:00", "14:00", "16:00", "18:00", "20:00"]);
    for (const days of [1, 3, 10, 40, 200, 1000, 9000]) {
      const found = timeTicks(BEGINS_MS, BEGINS_MS + days * DAY_MS, "America/New_York", 8);
      expect(found.length).toBeGreaterThanOrEqual(2);
      expect(found.length).toBeLessThanOrEqual(9);
    }
  });
});

describe("the zero in a terminal", () => {
  it("is a plot of 80 columns and the zeros that were asked for", () => {
    const text = zeroText(WEEK, OPTIONS);
    for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    expect(text).toBe(`zero from the calibrated one, N: . tracked, o asked, x put back, | calibrated
     20.0                                         o         |
                                                            |
                                                            |
                                                            |
                                                            |
                                                            |
                                                            |
                                      ............x.........|
                         .............                      |
        0 ...............-----------------------------------..-----------------
     -1.1                                                   | .................
                          2026-11-04           2026-11-06          2026-11-08

when last kept, it stood -1.1 N from the calibrated zero
moved 38 times, 2 of them asked for or put back
                                 zero  by
2026-11-06 08:00:00  asked     20.0 N  tech-1
2026-11-06 08:00:36  restored   6.0 N  -`);
  });
});
