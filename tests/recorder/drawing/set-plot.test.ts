import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { fromNewtons } from "../../../protocol/units.ts";
import { STOP_REASONS, STYLES } from "../../../protocol/vocabulary.ts";
import { setPlot } from "../../../recorder/drawing/set-plot.ts";
import type { SetPlotOptions } from "../../../recorder/drawing/set-plot-facts.ts";
import { SET } from "../control/fake-gym.ts";
import { drawnSet, SET_NAMES } from "./drawn-sets.ts";
import { boxesOf, expectReadable, lastLevel, only, scalesOf } from "./looked-at.ts";
import { classed, type Element, named, number, parseXml } from "./xml.ts";

const HOUSE = { unit: "N", time_zone: "Europe/Lisbon" } as const;

/** Middle of a diamond, a square or a dot. */
function middleOf(group: Element): readonly [number, number] {
  const [mark] = group.children.filter(({ name }) => name !== "title");
  const { name, attributes } = mark!;
  if (name === "circle") return [number(mark!, "cx"), number(mark!, "cy")];
  if (name === "rect") return [number(mark!, "x") + 5, number(mark!, "y") + 5];
  if (name === "polygon") {
    const [left, , tip] = attributes["points"]!.split(" ").map((point) => point.split(",").map(Number));
    return [tip![0]!, left![1]! + 4];
  }
  const [x, y] = /^M([\d.-]+) ([\d.-]+)/.exec(attributes["d"]!)!.slice(1).map(Number) as [number, number];
  if (attributes["d"]!.includes("l6 7")) return [x, y + 7];
  return attributes["d"]!.includes("h10") ? [x + 5, y] : [x + 3.5, y + 3.5];
}

describe.each(SET_NAMES)("%s", (name) => {
  test("is the picture that was looked at", async () => {
    const { message, curve, floor } = await drawnSet(name);
    const options: SetPlotOptions = { ...HOUSE, unit: name === "continuous" ? "lbf" : "N", floor };
    await expect(setPlot(message, curve, options)).toMatchFileSnapshot(`golden/set-${name}.svg`);
  });

  test("is readable, and every mark lies where its figure says", async () => {
    const { message, curve, floor } = await drawnSet(name);
    const root = expectReadable(setPlot(message, curve, { ...HOUSE, floor }));
    const { force, time, force_px, time_px } = scalesOf(root);
    const { best_force_N, floor_force_N, final_force_N, duration_s, efforts, style } = message;
    expect(Math.abs(force(middleOf(only(root, "best"))[1]) - best_force_N!)).toBeLessThan(force_px);
    expect(Math.abs(force(middleOf(only(root, "final"))[1]) - final_force_N!)).toBeLessThan(force_px);
    expect(Math.abs(time(number(only(root, "stop"), "x1")) - duration_s)).toBeLessThan(time_px);
    if (floor_force_N === null) expect(classed(root, "floor")).toEqual([]);
    else {
      const level = lastLevel(only(root, "floor").attributes["d"]!);
      expect(Math.abs(force(level) - floor_force_N)).toBeLessThan(force_px);
    }
    const marks = classed(root, "effort");
    expect(marks.length).toBe(style === "hold" ? 0 : efforts.length);
    for (const [index, mark] of marks.entries()) {
      const { start_s, duration_s: lasted_s, peak_force_N, effort_number } = efforts[index]!;
      const [x, y] = middleOf(mark);
      expect(Math.abs(force(y) - peak_force_N)).toBeLessThan(force_px);
      expect(time(x)).toBeGreaterThanOrEqual(start_s - time_px);
      expect(time(x)).toBeLessThanOrEqual(start_s + lasted_s + time_px);
      expect(mark.children[0]?.text).toMatch(new RegExp(`^effort ${effort_number}, `));
    }
  });

  test("has the curve within its panel, and its highest reading", async () => {
    const { message, curve, floor } = await drawnSet(name);
    const root = parseXml(setPlot(message, curve, { ...HOUSE, floor }));
    const { frame, force, force_px } = scalesOf(root);
    const levels = [...only(root, "force").attributes["d"]!.matchAll(/[ML]([\d.-]+) ([\d.-]+)/g)];
    for (const [, x, y] of levels) {
      expect(Number(x)).toBeGreaterThanOrEqual(frame.left - 0.1);
      expect(Number(x)).toBeLessThanOrEqual(frame.right + 0.1);
      expect(Number(y)).toBeGreaterThanOrEqual(frame.top);
      expect(Number(y)).toBeLessThanOrEqual(frame.bottom);
    }
    // A spike that the rules of a set took out is not drawn: what two readings in a row reached is.
    const off_N = message.resting_subtracted ? message.resting_force_N! : 0;
    const shown = curve.elapsed_s.flatMap((s, index) => (s < -1.4 ? [] : [curve.force_N[index] ?? 0]));
    const twice = shown.map((N, index) => Math.min(N, shown[index + 1] ?? N));
    const highest_N = Math.max(...twice) - off_N;
    const drawn_N = force(Math.min(...levels.map(([, , y]) => Number(y))));
    expect(Math.abs(drawn_N - highest_N)).toBeLessThan(2 * force_px);
  });
});

test("the floor rises in steps that the set itself tells of, and stops at the stop", async () => {
  const { message, curve, floor } = await drawnSet("continuous");
  const root = parseXml(setPlot(message, curve, { ...HOUSE, floor }));
  const { force, force_px } = scalesOf(root);
  const drawn_N = [...only(root, "floor").attributes["d"]!.matchAll(/(?:V|M[\d.-]+ )([\d.-]+)/g)].map(([, y]) =>
    force(Number(y)),
  );
  const stood_N = [...new Set(message.efforts.map(({ floor_force_N }) => floor_force_N))].filter((N) => N !== null);
  expect(drawn_N.length).toBeGreaterThan(1);
  for (const N of stood_N) expect(Math.min(...drawn_N.map((level) => Math.abs(level - N)))).toBeLessThan(force_px);
});

test("without the steps: of efforts each as it was judged, of a hold only a figure", async () => {
  const efforts = await drawnSet("continuous");
  const root = expectReadable(setPlot(efforts.message, efforts.curve, HOUSE));
  const { force, force_px, time, time_px } = scalesOf(root);
  expect(
    Math.abs(force(lastLevel(only(root, "floor").attributes["d"]!)) - efforts.message.floor_force_N!),
  ).toBeLessThan(force_px);
  // Each from its own onset to the next one's, the last to the stop.
  const known = efforts.message.efforts.filter(({ floor_force_N }) => floor_force_N !== null);
  const path = only(root, "floor").attributes["d"]!;
  const drawn_s = [path.slice(1).split(" ")[0]!, ...[...path.matchAll(/H([\d.]+)/g)].map(([, x]) => x!)].map((x) =>
    time(Number(x)),
  );
  const rising = known.filter(({ floor_force_N }, index) => floor_force_N !== known[index - 1]?.floor_force_N);
  expect(rising.length).toBeGreaterThan(1);
  const told_s = [...rising.map(({ start_s }) => start_s), efforts.message.duration_s];
  expect(drawn_s.length).toBe(told_s.length);
  for (const [index, s] of drawn_s.entries()) expect(Math.abs(s - told_s[index]!)).toBeLessThan(time_px);
  const hold = await drawnSet("hold");
  const plain = expectReadable(setPlot(hold.message, hold.curve, HOUSE));
  expect([...classed(plain, "floor"), ...classed(plain, "best")]).toEqual([]);
  expect(boxesOf(plain).map(({ text }) => text)).toContain(`last floor ${hold.message.floor_force_N!.toFixed(1)} N`);
});

test("forces are in the unit of the house, the date in its time", async () => {
  const { message, curve, floor } = await drawnSet("hold");
  const summer = { ...message, started_at: "2026-07-01T23:30:00.000Z" };
  const root = parseXml(setPlot(summer, curve, { unit: "kgf", time_zone: "Europe/Lisbon", floor }));
  const words = boxesOf(root).map(({ text }) => text);
  expect(words).toContain("force, kgf");
  expect(words).toContain(`best ${fromNewtons(message.best_force_N!, "kgf").toFixed(1)} kgf`);
  expect(words.join("\n")).toMatch(/^2026-07-02 00:30;/m);
});

test("a gap is not bridged, a saturated reading neither", async () => {
  const { message, curve, floor } = await drawnSet("hold-sensor-fault");
  const pieces = (of: typeof curve): number =>
    only(parseXml(setPlot(message, of, { ...HOUSE, floor })), "force").attributes["d"]!.split("M").length - 1;
  expect(pieces(curve)).toBe(2);
  const middle = Math.floor(curve.force_N.length * 0.8);
  const saturated = { ...curve, force_N: curve.force_N.map((N, index) => (index === middle ? null : N)) };
  expect(pieces(saturated)).toBe(3);
});

test("a long set is no larger, and its shortest peak is there", () => {
  const count = 72_000;
  const elapsed_s = Array.from({ length: count }, (_, index) => index / 80);
  const force_N = elapsed_s.map((s) => 500 + 200 * Math.sin(s * 7) + 20 * Math.sin(s * 301));
  for (const index of [40_001, 40_002, 40_003]) force_N[index] = 1900;
  const message: SetMessage = {
    ...SET,
    style: "hold",
    efforts: [],
    duration_s: 900,
    best_force_N: 700,
    floor_force_N: 420,
    final_force_N: 500,
  };
  const svg = setPlot(message, { elapsed_s, force_N }, HOUSE);
  expect(svg.length).toBeLessThan(60_000);
  const root = expectReadable(svg);
  const { force, force_px } = scalesOf(root);
  const highest = Math.min(
    ...[...only(root, "force").attributes["d"]!.matchAll(/[ML][\d.-]+ ([\d.-]+)/g)].map(([, y]) => Number(y)),
  );
  expect(Math.abs(force(highest) - 1900)).toBeLessThan(force_px);
});

test("lines differ in dash or weight, not in grey alone", async () => {
  const { message, curve, floor } = await drawnSet("rest-pause");
  const root = parseXml(setPlot(message, curve, { ...HOUSE, floor }));
  const looks = ["force", "floor", "best-level", "onset", "stop", "ended"].map((each) => {
    const { attributes } = only(root, each);
    return `${attributes["stroke-dasharray"] ?? "whole"} ${attributes["stroke-width"] ?? 1}`;
  });
  expect(new Set(looks).size).toBe(looks.length);
});

test.each([
  ["simulated: nobody trained", { simulated: true }],
  ["void: not to be compared", { void: true }],
  ["held on purpose, not as hard as possible", { intent: "held" }],
  ["pain 6 of 10", { pain: 6 }],
  ["warm-up", { warm_up: true }],
] as const)("nobody misses: %s", async (said, change) => {
  const { message, curve, floor } = await drawnSet("continuous");
  const marked = { ...message, ...change };
  const root = expectReadable(setPlot(marked, curve, { ...HOUSE, floor }));
  expect(boxesOf(root).map(({ text }) => text)).toContain(said);
  expect(named(root, "desc")[0]?.text.toLowerCase()).toContain(said);
  const plain = parseXml(setPlot(message, curve, { ...HOUSE, floor }));
  expect(boxesOf(plain).map(({ text }) => text)).not.toContain(said);
});

test.each(STOP_REASONS)("how it ended is in words: %s", (stop_reason) => {
  const root = expectReadable(setPlot({ ...SET, stop_reason, ended_because: "pain" }, null, HOUSE));
  const words = boxesOf(root).map(({ text }) => text);
  expect(words.filter((text) => /^stop at 28\.5 s: \w/.test(text)).length).toBe(1);
  expect(words.join("\n")).not.toMatch(/undefined|null/);
});

/** Whatever a recorder may answer, however odd, leaves a drawing that can be read. */
test("any set is readable", () => {
  const force = fc.double({ min: 1, max: 20_000, noNaN: true });
  const drawn = fc.record({
    label: fc.string({ maxLength: 120, unit: "grapheme" }),
    style: fc.constantFrom(...STYLES),
    stop_reason: fc.constantFrom(...STOP_REASONS),
    best_N: fc.option(force),
    loss: fc.double({ min: 0.01, max: 0.9, noNaN: true }),
    peaks_N: fc.array(force, { maxLength: 60 }),
    every_s: fc.double({ min: 0.5, max: 30, noNaN: true }),
    counted: fc.array(fc.boolean(), { minLength: 60, maxLength: 60 }),
    today: fc.boolean(),
    ceiling_N: fc.option(force),
    unit: fc.constantFrom("N", "kgf", "lbf"),
    with_curve: fc.boolean(),
    remarks: fc.boolean(),
  });
  fc.assert(
    fc.property(
      drawn,
      ({
        label,
        style,
        stop_reason,
        best_N,
        loss,
        peaks_N,
        every_s,
        counted,
        today,
        ceiling_N,
        unit,
        with_curve,
        remarks,
      }) => {
        const efforts = peaks_N.map((peak_force_N, index) => ({
          ...SET.efforts[0]!,
          effort_number: index + 1,
          start_s: index * every_s,
          duration_s: every_s * 0.7,
          peak_force_N,
          counted: counted[index]!,
          floor_force_N: best_N === null ? null : best_N * (1 - loss),
        }));
        const duration_s = Math.max(1, peaks_N.length * every_s);
        const message: SetMessage = {
          ...SET,
          exercise_label: label,
          style,
          stop_reason,
          efforts,
          duration_s,
          best_force_N: best_N,
          floor_force_N: best_N === null ? null : best_N * (1 - loss),
          final_force_N: best_N === null ? null : best_N * (1 - loss * 1.02),
          today_best_force_N: best_N === null ? null : best_N * 1.001,
          options: { ...SET.options, best_from: today ? "today" : "set", ceiling_force_N: ceiling_N },
          ...(remarks ? { simulated: true, warm_up: true, void: true, intent: "held", cut_short: true, pain: 10 } : {}),
        };
        const elapsed_s = Array.from({ length: 400 }, (_, index) => (index * duration_s) / 390 - 1);
        const force_N = elapsed_s.map(
          (s) => (peaks_N[Math.floor(s / every_s)] ?? 0) * Math.abs(Math.sin((s * Math.PI) / every_s)),
        );
        expectReadable(
          setPlot(message, with_curve ? { elapsed_s, force_N } : null, {
            unit,
            time_zone: "Europe/Lisbon",
          } as SetPlotOptions),
        );
      },
    ),
    { numRuns: 60 },
  );
});
