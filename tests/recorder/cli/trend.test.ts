/** `tidemark trend`: asked for as typed, said with what is real before what to do. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { done } from "../../../protocol/requests/response.ts";
import { ADVICE, type Advice, type TrendResult } from "../../../protocol/requests/trend.ts";
import { sayTrends } from "../../../recorder/cli/trend/trend-text.ts";
import { trendPlot } from "../../../recorder/drawing/trend-plot.ts";
import { TRENDS } from "../drawing/drawn-trends.ts";
import { cli } from "./fake-terminal.ts";
import { type Running, running } from "./running.ts";

let here: Running;
let answer: TrendResult = TRENDS["many"]!;
const asked: unknown[] = [];
beforeAll(async () => {
  here = await running({
    records: {
      trend: async (args) => {
        asked.push(args);
        return done(answer);
      },
    },
  });
});
afterAll(() => here.stop());
const trend = (...words: string[]) => cli("trend", "leg-press", "otter-14", ...words, "--socket", here.socket);

test("what is typed is what is asked", async () => {
  asked.length = 0;
  await trend(
    "--side",
    "left",
    "--style",
    "hold",
    "--intent",
    "maximal",
    "--exercise",
    "press",
    "--limit",
    "12",
    "--from",
    "2026-09-01",
    "--to",
    "2026-10-31",
  );
  await trend();
  expect(asked).toEqual([
    {
      station: "leg-press",
      trainee: "otter-14",
      side: "left",
      style: "hold",
      intent: "maximal",
      exercise: "press",
      limit: 12,
      from: "2026-09-01T00:00:00.000Z",
      to: "2026-11-01T00:00:00.000Z",
    },
    { station: "leg-press", trainee: "otter-14", limit: 100 },
  ]);
});

test.each<[string[], string]>([
  [["--side", "lef"], "--side must be left, right or both"],
  [["--limit", "0"], "--limit must be at least 1"],
])("%j is refused before anybody is asked", async (words, error) => {
  asked.length = 0;
  expect(await trend(...words)).toMatchObject({ exit: 2, error: expect.stringContaining(error) });
  expect(asked).toEqual([]);
});

test("what nobody trained is said over it", async () => {
  const [first, ...others] = TRENDS["many"]!.trends;
  const simulated = { ...first!, days: first!.days.map((day) => ({ ...day, simulated: true })) };
  answer = { ...TRENDS["many"]!, trends: [simulated, ...others] };
  const { out } = await trend();
  expect(out.split("\n")[1]).toBe("simulated: nobody trained, this is the program's own gym");
});

test("heading, picture, days, whether it is real, and the advice: reasons, what they come to, limits", async () => {
  answer = TRENDS["many"]!;
  const { exit, out, error } = await trend();
  expect([exit, error]).toEqual([0, ""]);
  const [heading, picture, days, real, advice, ...more] = out.split("\n\n");
  expect(more).toEqual([]);
  expect(heading).toBe(
    "Leg press, left, continuous: otter-14\n" +
      "2026-09-01 to 2026-11-01; 16 days, the first comparable set of each; there are earlier ones\n" +
      "setup: pin high, seat 4; 2 days of another setup left out",
  );
  expect(picture).toMatch(/^best, N \(not from 0\)/);
  const rows = days!.split("\n");
  expect(rows.length).toBe(18);
  expect(rows.at(-1)).toMatch(/^best unconfirmed: no second effort came near it/);
  // Threshold, duration, best, loss, impulse, means: the order in which a set is published.
  expect(rows[0]!.trim().split(/ {2,}/)).toEqual([
    "day",
    "to",
    "time",
    "best",
    "loss",
    "impulse",
    "mean",
    "in efforts",
    "set",
  ]);
  expect(rows[1]!.split(/ {2,}/)).toEqual([
    "2026-09-01",
    "40 %",
    "24.0 s",
    "1010 N",
    "41 %",
    "18180 N s",
    "525 N",
    "717 N",
    "01930000-0000",
  ]);
  expect(days).toMatch(/^2026-09-17 .* best unconfirmed$/m);
  expect(days).toMatch(/^2026-09-25 .* pain 4$/m);
  expect(days).toMatch(/^2026-10-08 .* another calibration$/m);
  expect(real).toBe(`Is it real?
- Best 1012.3 N to 1151.7 N (means of 3 early and 3 late days), +13.8 %: more than the 7.1 % that measurement error explains, so it is real; the calibration changed in between, and is allowed for.
- Impulse 15200 N s to 15540 N s (means of 1 early and 2 late days, compared at a loss of 30 %), +2.2 %: no more than the 16.0 % that measurement error explains, so it is not called a change; the calibration changed in between, and is allowed for.
- The typical error of one day's best is 3.1 %, so two single days must differ by more than 8.6 %. From 12 days of this trainee's own.
- A change of 2.0 % or more is worth having. Invented for this drawing.`);
  expect(advice).toBe(`Advice
- Best has risen by 13.8 % since the beginning, more than measurement error explains.
- The last two steps were followed by better results.
  So: stop earlier, at a loss of 25 %.
- The record knows nothing of sleep, illness or other training.
- The trainer decides.`);
});

test("several trends each in their turn; none is said", async () => {
  answer = TRENDS["two-sides"]!;
  const { out } = await trend();
  expect(out.split("\n\n\n").map((part) => part.split("\n")[0])).toEqual([
    "Leg press, left, continuous: otter-14",
    "Leg press, right, continuous: otter-14",
  ]);
  answer = TRENDS["none"]!;
  expect((await trend()).out).toBe("no comparable set of otter-14 is kept at leg-press yet that fits");
});

test("days without a best have their row and no picture", async () => {
  answer = TRENDS["unknown"]!;
  const { out } = await trend();
  expect(out).toMatch(/^2026-09-01 +- /m);
  expect(out).not.toContain("best, N");
});

test("--svg is every trend in one file, never over another; --json is what the recorder said", async () => {
  answer = TRENDS["two-sides"]!;
  const path = join(here.directory, "trend.svg");
  expect(await trend("--svg", path)).toEqual({ exit: 0, out: `otter-14 at leg-press drawn in ${path}`, error: "" });
  expect(readFileSync(path, "utf8")).toBe(`${trendPlot(answer, { unit: "N", time_zone: "UTC" })}\n`);
  expect((await trend("--svg", path)).error).toMatch(/was not written, it is there already/);
  expect(JSON.parse((await trend("--json")).out)).toEqual(answer);
});

describe("every advice is said, its reasons first and its limits last", () => {
  const said = (advice: Partial<Advice>): string[] => {
    const trend = TRENDS["few"]!.trends[0]!;
    const result = { ...TRENDS["few"]!, trends: [{ ...trend, advice: { ...trend.advice, ...advice } }] };
    const text = sayTrends(result, {
      unit: "N",
      time_zone: "UTC",
      drawn: { columns: 80, characters: "ascii" },
      columns: null,
    });
    return text.slice(text.indexOf("\nAdvice\n") + 1).split("\n");
  };

  test.each(ADVICE)("%s", (advice) => {
    for (const fatigue_threshold of [0.35, null]) {
      const lines = said({ advice, fatigue_threshold, reasons: ["because."], limits: [] });
      expect(lines.length).toBe(4);
      expect(lines.slice(0, 2)).toEqual(["Advice", "- Because."]);
      expect(lines[2]).toMatch(/^ {2}So: [a-z].*\.$/);
      expect(lines[2]).not.toMatch(/null|undefined|-\.$/);
      expect(lines[3]).toBe("- The trainer decides.");
    }
  });

  test("no two of them sound alike", () => {
    expect(new Set(ADVICE.map((advice) => said({ advice, fatigue_threshold: null })[2])).size).toBe(ADVICE.length);
  });
});

test("sentences are wrapped for who looks, tables and pictures are left alone", () => {
  const text = sayTrends(TRENDS["many"]!, {
    unit: "N",
    time_zone: "UTC",
    drawn: { columns: 70, characters: "braille" },
    columns: 70,
  });
  const [heading, picture, , real] = text.split("\n\n");
  for (const part of [heading, picture, real])
    for (const line of part!.split("\n")) expect(line.length).toBeLessThan(70);
});
