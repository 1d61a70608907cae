/** What was new of a set: a change is called one only where the trend says that it is real. */
import { expect, it } from "vitest";
import type { Trend, TrendDay, TrendResult } from "../../../../protocol/requests/trend.ts";
import { against } from "../../../../recorder/cli/visit-sheet/against.ts";
import { inventedSet, uuidOf } from "../../store/invented.ts";

const HOUSE = { unit: "N", time_zone: "UTC" } as const;
const DAY = "2026-11-24";
const SET = inventedSet(2);

const dayOf = (number: number, day: string, over: Partial<TrendDay> = {}): TrendDay => ({
  day,
  set_id: uuidOf(number),
  set_seq: number,
  started_at: `${day}T09:00:00.000Z`,
  fatigue_threshold: 0.4,
  reached_threshold: true,
  best_force_N: 1000,
  impulse_N_s: 48_000,
  duration_s: 60,
  mean_force_N: 780,
  mean_effort_force_N: 780,
  force_loss: 0.41,
  expanded_uncertainty_N: 9,
  calibration_id: uuidOf(0xca1),
  new_calibration: false,
  zero_shift_N: null,
  best_unconfirmed: false,
  simulated: false,
  pain: null,
  ...over,
});

const trendOf = (days: readonly TrendDay[], is_real: boolean): TrendResult => {
  const trend: Trend = {
    exercise: "leg-press",
    exercise_label: "Leg press",
    side: "left",
    style: "hold",
    intent: "maximal",
    setup: {},
    resting_subtracted: false,
    days: [...days],
    more: false,
    days_of_other_setup: 0,
    errors: [
      {
        figure: "best_force_N",
        typical_error: 0.03,
        degrees_of_freedom: 8,
        from: "own",
        source: "Nine days.",
        minimal_detectable_change: 0.08,
      },
    ],
    smallest_worthwhile_change: { fraction: 0.02, source: "Invented." },
    changes: [
      {
        figure: "best_force_N",
        from_value: 1000,
        from_days: 1,
        to_value: 1100,
        to_days: 1,
        change: 0.1,
        minimal_detectable_change: 0.08,
        is_real,
        is_improvement: true,
        is_worthwhile: true,
        at_threshold: null,
        calibration_changed: false,
      },
    ],
    advice: { reasons: [], advice: "keep", fatigue_threshold: null, limits: [] },
  };
  return { station: "leg-press", trainee: "t-01", trends: [trend] };
};

const best = (now_N: number, is_real: boolean): string | undefined => {
  const days = [dayOf(1, "2026-11-20"), dayOf(2, DAY, { best_force_N: now_N })];
  return against(SET, DAY, trendOf(days, is_real), HOUSE).find((sentence) => sentence.startsWith("Best"));
};

it("calls a change one where it is real and beyond what two days differ by", () => {
  expect(best(1100, true)).toBe("Best: 1100.0 N; on 2026-11-20 it was 1000.0 N: 10.0 % more, a change.");
});

it("calls nothing a change that the trend does not, however large", () => {
  expect(best(1300, false)).toBe(
    "Best: 1300.0 N; on 2026-11-20 it was 1000.0 N: 30.0 % more, which is not shown to be a change: two days may differ by 8.0 % by themselves.",
  );
});

it("nor one that the trend shows over days but these two do not, nor one the other way", () => {
  expect(best(1050, true)).toContain("Over several days it has changed; these two days alone do not show it.");
  expect(best(850, true)).toContain("15.0 % less, which is not shown to be a change");
  expect(best(1000, true)).toBe("Best: 1000.0 N; on 2026-11-20 it was 1000.0 N, the same.");
});

it("compares time, impulse and mean force only at the same threshold, and says a new calibration", () => {
  const earlier = dayOf(1, "2026-11-20", { fatigue_threshold: 0.3, calibration_id: uuidOf(0xca2) });
  const said = against(SET, DAY, trendOf([earlier, dayOf(2, DAY)], false), HOUSE);
  expect(said).toEqual([
    expect.stringMatching(/^Best: /),
    "The sensor was calibrated anew in between, so part of a difference may be the sensor's.",
  ]);
  const ended = dayOf(2, DAY, { reached_threshold: false, impulse_N_s: 9000 });
  expect(against(SET, DAY, trendOf([dayOf(1, "2026-11-20"), ended], false), HOUSE)).toHaveLength(1);
  const same = against(SET, DAY, trendOf([dayOf(1, "2026-11-20"), dayOf(2, DAY)], false), HOUSE);
  expect(same.map((sentence) => sentence.split(":")[0])).toEqual(["Time", "Best", "Impulse", "Mean force"]);
});

it.each<[string, Parameters<typeof against>, RegExp]>([
  ["a warm-up", [{ ...SET, warm_up: true }, DAY, undefined, HOUSE], /a warm-up\.$/],
  ["a void set", [{ ...SET, void: true }, DAY, undefined, HOUSE], /taken out by hand\.$/],
  ["one cut short", [{ ...SET, cut_short: true }, DAY, undefined, HOUSE], /cut short\.$/],
  ["without a trend", [SET, DAY, undefined, HOUSE], /could not tell/],
  ["not the first of its day", [SET, DAY, trendOf([dayOf(1, DAY)], true), HOUSE], /only the first such set of a day/],
  ["another setup", [SET, DAY, trendOf([dayOf(1, "2026-11-20")], true), HOUSE], /another setup/],
  ["the first ever", [SET, DAY, trendOf([dayOf(2, DAY)], true), HOUSE], /^The first comparable set on record/],
])("%s is said", (_, args, sentence) => {
  expect(against(...args)).toEqual([expect.stringMatching(sentence)]);
});
