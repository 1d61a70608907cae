import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Trend, TrendDay, TrendResult } from "../../../protocol/requests/trend.ts";
import { sayInstant } from "../../../recorder/drawing/instants.ts";
import { trendPlot } from "../../../recorder/drawing/trend-plot.ts";
import { TRENDS } from "./drawn-trends.ts";
import { boxesOf, expectReadable, only, scaleOf, scalesOf } from "./looked-at.ts";
import { classed, type Element, named, number, parseXml } from "./xml.ts";

const HOUSE = { unit: "N", time_zone: "Europe/Lisbon" } as const;
const theTrend = (name: string): Trend => TRENDS[name]!.trends[0]!;
const wordsOf = (root: Element): string[] => boxesOf(root).map(({ text }) => text);

describe.each(Object.keys(TRENDS))("%s", (name) => {
  test("is the picture that was looked at", async () => {
    await expect(trendPlot(TRENDS[name]!, HOUSE)).toMatchFileSnapshot(`golden/trend-${name}.svg`);
  });

  test.each(["N", "kgf", "lbf"] as const)("is readable in %s", (unit) => {
    const root = expectReadable(trendPlot(TRENDS[name]!, { ...HOUSE, unit }));
    if (TRENDS[name]!.trends[0]?.days[0]?.best_force_N != null) {
      expect(wordsOf(root).join("\n")).toContain(`best, ${unit} (the axis does not begin at 0)`);
    }
  });
});

const dot = (group: Element): Element => group.children.find((child) => child.name === "circle")!;
/** Those of the first panel, which comes first. */
const daysOf = (root: Element, count: number): Element[] => classed(root, "day").slice(0, count);

test("every day lies on its date and at its best", () => {
  const { days } = theTrend("many");
  const root = parseXml(trendPlot(TRENDS["many"]!, HOUSE));
  const { force, force_px } = scalesOf(root);
  const dates = named(root, "text").filter(({ text }) => /^\d{4}-\d\d-\d\d$/.test(text));
  // Midnight there: Lisbon is an hour ahead in September and early October.
  const ticks = dates.map((tick) => ({ px: number(tick, "x"), value: Date.parse(`${tick.text}T00:00:00Z`) }));
  const moment = scaleOf(ticks);
  const px_ms = moment(1) - moment(0);
  const marks = daysOf(root, days.length);
  expect(marks.length).toBe(days.length);
  for (const [index, mark] of marks.entries()) {
    const { best_force_N, started_at, day } = days[index]!;
    expect(Math.abs(force(number(dot(mark), "cy")) - best_force_N!)).toBeLessThan(force_px);
    const local_ms = Date.parse(`${sayInstant(started_at, HOUSE.time_zone).replace(" ", "T")}Z`);
    expect(Math.abs(moment(number(dot(mark), "cx")) - local_ms)).toBeLessThan(px_ms + 3_600_000);
    expect(mark.children[0]?.text).toContain(`${day}: best`);
  }
});

test("the band is what measurement error explains about the baseline, and a real change leaves it", () => {
  const { changes } = theTrend("many");
  const [change] = changes;
  const root = parseXml(trendPlot(TRENDS["many"]!, HOUSE));
  const { force, force_px } = scalesOf(root);
  const band = only(root, "error-band");
  const high = force(number(band, "y"));
  const low = force(number(band, "y") + number(band, "height"));
  expect(Math.abs(high - change!.from_value * (1 + change!.minimal_detectable_change))).toBeLessThan(force_px);
  expect(Math.abs(low - change!.from_value * (1 - change!.minimal_detectable_change))).toBeLessThan(force_px);
  expect(Math.abs(force(number(only(root, "baseline"), "y1")) - change!.from_value)).toBeLessThan(force_px);
  expect(force(number(only(root, "recent"), "y1"))).toBeGreaterThan(high);
  const small = parseXml(trendPlot({ ...TRENDS["two-sides"]!, trends: [TRENDS["two-sides"]!.trends[0]!] }, HOUSE));
  const within = only(small, "error-band");
  const recent = number(only(small, "recent"), "y1");
  expect(recent).toBeGreaterThan(number(within, "y"));
  expect(recent).toBeLessThan(number(within, "y") + number(within, "height"));
});

test("means of other days than are shown are not drawn over the wrong ones", () => {
  const trend = theTrend("many");
  const changes = trend.changes.map((change) => ({ ...change, from_value: change.from_value * 0.9 }));
  const root = expectReadable(trendPlot({ ...TRENDS["many"]!, trends: [{ ...trend, changes }] }, HOUSE));
  expect(classed(root, "baseline")).toEqual([]);
  expect(classed(root, "error-band").length).toBe(1);
});

test("nothing is compared yet: the typical error at each day instead of a band", () => {
  const trend = theTrend("few");
  const root = parseXml(trendPlot(TRENDS["few"]!, HOUSE));
  expect(classed(root, "error-band")).toEqual([]);
  const { force, force_px } = scalesOf(root);
  const bars = classed(root, "typical-error").slice(0, trend.days.length);
  expect(bars.length).toBe(3);
  for (const [index, bar] of bars.entries()) {
    const [, high, low] = /^M\S+ (\S+)h8M\S+ \S+V([\d.]+)M/.exec(bar.attributes["d"]!)!;
    const { best_force_N } = trend.days[index]!;
    expect(Math.abs(force(Number(high)) - best_force_N! * 1.031)).toBeLessThan(force_px);
    expect(Math.abs(force(Number(low)) - best_force_N! * 0.969)).toBeLessThan(force_px);
  }
});

test("an unconfirmed best is hollow, pain has a shape, another calibration a broken line between two days", () => {
  const { days } = theTrend("many");
  const root = parseXml(trendPlot(TRENDS["many"]!, HOUSE));
  const marks = daysOf(root, days.length);
  expect(marks.map((mark) => dot(mark).attributes["fill"] === "#fff")).toEqual(days.map((day) => day.best_unconfirmed));
  expect(marks.map((mark) => mark.children.some(({ name }) => name === "path"))).toEqual(
    days.map(({ pain }) => pain !== null),
  );
  const line = only(root, "calibrated");
  const changed = days.findIndex(({ new_calibration }) => new_calibration);
  expect(number(line, "x1")).toBeGreaterThan(number(dot(marks[changed - 1]!), "cx"));
  expect(number(line, "x1")).toBeLessThan(number(dot(marks[changed]!), "cx"));
  // Part of the step may be the scale's, so nothing joins the two.
  const joined = named(root, "path").find(({ attributes }) => attributes["stroke"] === "#555")!;
  expect(joined.attributes["d"]!.split("M").length - 1).toBe(2);
});

test("thresholds are written where they change, one tick each", () => {
  const root = parseXml(trendPlot(TRENDS["many"]!, HOUSE));
  expect(wordsOf(root).filter((text) => text.startsWith("to "))).toEqual(["to 40 %", "to 35 %", "to 30 %"]);
  const { days } = theTrend("many");
  const marks = daysOf(root, days.length);
  const first = [0, 8, 13].map((index) => number(dot(marks[index]!), "cx"));
  expect(classed(root, "threshold").map((tick) => number(tick, "x1"))).toEqual(first);
});

test("the second figure is of sets at the newest threshold alone", () => {
  const { days } = theTrend("many");
  const root = parseXml(trendPlot(TRENDS["many"]!, HOUSE));
  expect(wordsOf(root)).toContain("impulse of sets to a loss of 30 %, N s (the axis does not begin at 0)");
  const more = classed(root, "day").slice(days.length);
  expect(more.map((mark) => mark.children[0]?.text)).toEqual(
    days
      .filter(({ fatigue_threshold }) => fatigue_threshold === 0.3)
      .map(({ day, impulse_N_s }) => `${day}: impulse ${impulse_N_s} N s`),
  );
  const unreached = { ...theTrend("many"), days: days.map((day) => ({ ...day, reached_threshold: false })) };
  expect(wordsOf(parseXml(trendPlot({ ...TRENDS["many"]!, trends: [unreached] }, HOUSE))).join()).not.toContain(
    "impulse",
  );
});

test("several trends in one file, each with its own description", () => {
  const root = parseXml(trendPlot(TRENDS["two-sides"]!, HOUSE));
  expect(named(root, "desc").length).toBe(2);
  expect(wordsOf(root).filter((text) => text.endsWith("continuous: otter-14"))).toEqual([
    "Leg press, left, continuous: otter-14",
    "Leg press, right, continuous: otter-14",
  ]);
});

test("no set, or none with a best, is said and not drawn", () => {
  for (const name of ["none", "unknown"]) {
    const root = expectReadable(trendPlot(TRENDS[name]!, HOUSE));
    expect(wordsOf(root)).toContain("no comparable set is kept yet");
    expect(classed(root, "day")).toEqual([]);
  }
});

test("any trend is readable", () => {
  const DAY_MS = 86_400_000;
  const drawn = fc.record({
    days: fc.array(
      fc.record({
        gap: fc.integer({ min: 1, max: 60 }),
        best_N: fc.option(fc.double({ min: 5, max: 19_000, noNaN: true }), { freq: 8 }),
        threshold: fc.option(fc.constantFrom(0.1, 0.2, 0.35, 0.4, 0.75)),
        pain: fc.option(fc.integer({ min: 0, max: 10 })),
        unconfirmed: fc.boolean(),
        calibrated: fc.boolean(),
      }),
      { maxLength: 40 },
    ),
    mdc: fc.option(fc.double({ min: 0.005, max: 0.9, noNaN: true })),
    notes: fc.dictionary(fc.stringMatching(/^[a-z]{1,12}$/), fc.string({ maxLength: 60 }), { maxKeys: 6 }),
    label: fc.string({ maxLength: 100 }),
    unit: fc.constantFrom("N", "kgf", "lbf"),
  });
  fc.assert(
    fc.property(drawn, ({ days, mdc, notes, label, unit }) => {
      const template = theTrend("one").days[0]!;
      const made = days.map(({ best_N, threshold, pain, unconfirmed, calibrated }, index): TrendDay => {
        const since = days.slice(0, index + 1).reduce((sum, { gap }) => sum + gap, 0);
        const started_at = new Date(Date.parse("2026-01-01T10:00:00Z") + since * DAY_MS).toISOString();
        return {
          ...template,
          day: started_at.slice(0, 10),
          started_at,
          fatigue_threshold: threshold,
          best_force_N: best_N,
          impulse_N_s: best_N,
          pain,
          best_unconfirmed: unconfirmed,
          new_calibration: calibrated,
        };
      });
      const first = made.find(({ best_force_N }) => best_force_N !== null)?.best_force_N ?? 1;
      const change = theTrend("many").changes[0]!;
      const trend: Trend = {
        ...theTrend("many"),
        exercise_label: label,
        setup: notes,
        days: made,
        changes:
          mdc === null
            ? []
            : [
                {
                  ...change,
                  from_value: first,
                  from_days: 1,
                  to_value: first * 1.2,
                  to_days: 1,
                  minimal_detectable_change: mdc,
                },
              ],
      };
      const result: TrendResult = { station: "row", trainee: "T-07", trends: [trend, trend] };
      expectReadable(trendPlot(result, { unit: unit as "N", time_zone: "Europe/Lisbon" }));
    }),
    { numRuns: 60 },
  );
});
