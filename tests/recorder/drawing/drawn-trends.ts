/** Trends to be drawn: many days, few, one and none. Invented; the verdicts are written down, not reckoned. */
import type { Change, Trend, TrendDay, TrendResult } from "../../../protocol/requests/trend.ts";

const DAY_MS = 86_400_000;
const BEGINS_MS = Date.parse("2026-09-01T16:30:00.000Z");

interface Visit {
  readonly on: number;
  readonly best_N: number | null;
  readonly threshold?: number | null;
  readonly changes?: Partial<TrendDay>;
}

function dayOf({ on, best_N, threshold = 0.4, changes }: Visit, index: number): TrendDay {
  const started_at = new Date(BEGINS_MS + on * DAY_MS + (index % 3) * 1_800_000).toISOString();
  const loss = threshold ?? 0.4;
  return {
    day: started_at.slice(0, 10),
    set_id: `01930000-0000-7000-8000-${index.toString(16).padStart(12, "0")}`,
    set_seq: index + 1,
    started_at,
    fatigue_threshold: threshold,
    reached_threshold: threshold !== null,
    best_force_N: best_N,
    impulse_N_s: best_N === null ? null : Math.round(best_N * 45 * loss),
    duration_s: Math.round(600 * loss) / 10 + (index % 4),
    mean_force_N: best_N === null ? null : Math.round(best_N * 0.52),
    mean_effort_force_N: best_N === null ? null : Math.round(best_N * 0.71),
    force_loss: threshold === null ? null : threshold + 0.012,
    expanded_uncertainty_N: 8.4,
    calibration_id: "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d11",
    new_calibration: false,
    zero_shift_N: 0.4,
    best_unconfirmed: false,
    simulated: false,
    pain: null,
    ...changes,
  };
}

const RISE: Change = {
  figure: "best_force_N",
  from_value: 1012.33,
  from_days: 3,
  to_value: 1151.67,
  to_days: 3,
  change: 0.1376,
  minimal_detectable_change: 0.0712,
  is_real: true,
  is_improvement: true,
  is_worthwhile: true,
  at_threshold: null,
  calibration_changed: true,
};

const TREND: Trend = {
  exercise: "leg-press",
  exercise_label: "Leg press",
  side: "left",
  style: "continuous",
  intent: "maximal",
  setup: { seat: "4", pin: "high" },
  resting_subtracted: false,
  days: [],
  more: false,
  days_of_other_setup: 0,
  errors: [
    {
      figure: "best_force_N",
      typical_error: 0.031,
      degrees_of_freedom: 9,
      from: "own",
      source: "From 12 days of this trainee's own.",
      minimal_detectable_change: 0.086,
    },
  ],
  smallest_worthwhile_change: { fraction: 0.02, source: "Invented for this drawing." },
  changes: [],
  advice: { reasons: [], advice: "keep", fatigue_threshold: 0.4, limits: ["The trainer decides."] },
};

const MANY = [1010, 1031, 996, 1025, 1040, 1052, 1030, 1071, 1080, 1066, 1101, 1120, 1098, 1140, 1155, 1160].map(
  (best_N, index): Visit => ({
    on: index * 4 + (index % 2),
    best_N,
    threshold: index < 8 ? 0.4 : index < 13 ? 0.35 : 0.3,
    changes: {
      ...(index === 4 ? { best_unconfirmed: true } : {}),
      ...(index === 6 ? { pain: 4 } : {}),
      ...(index === 9 ? { new_calibration: true } : {}),
    },
  }),
);

const YEAR = Array.from(
  { length: 150 },
  (_, index): Visit => ({
    on: Math.round(index * 2.4),
    best_N: Math.round(900 + 1.4 * index + 25 * Math.sin(7 * index)),
    threshold: index < 30 ? 0.4 : index < 33 ? 0.35 : index < 34 ? 0.4 : index < 100 ? 0.35 : 0.3,
  }),
);

const meanOf = (visits: readonly Visit[]): number =>
  visits.reduce((sum, { best_N }) => sum + (best_N ?? 0), 0) / visits.length;

const trend = (visits: readonly Visit[], changes: Partial<Trend> = {}): Trend => ({
  ...TREND,
  days: visits.map(dayOf),
  ...changes,
});

const of = (...trends: Trend[]): TrendResult => ({ station: "leg-press", trainee: "otter-14", trends });

export const TRENDS: Readonly<Record<string, TrendResult>> = {
  many: of(
    trend(MANY, {
      more: true,
      days_of_other_setup: 2,
      changes: [
        RISE,
        {
          ...RISE,
          figure: "impulse_N_s",
          from_value: 15_200,
          to_value: 15_540,
          change: 0.0224,
          at_threshold: 0.3,
          is_real: false,
          is_improvement: true,
          is_worthwhile: true,
          minimal_detectable_change: 0.16,
          from_days: 1,
          to_days: 2,
        },
      ],
      advice: {
        reasons: [
          "Best has risen by 13.8 % since the beginning, more than measurement error explains.",
          "The last two steps were followed by better results.",
        ],
        advice: "lower-threshold",
        fatigue_threshold: 0.25,
        limits: ["The record knows nothing of sleep, illness or other training.", "The trainer decides."],
      },
    }),
  ),
  few: of(
    trend(
      [
        { on: 0, best_N: 512, threshold: 0.2 },
        { on: 7, best_N: 531, threshold: 0.2 },
        { on: 14, best_N: 498, threshold: 0.2 },
      ],
      {
        exercise_label: "Knee extension",
        style: "hold",
        setup: {},
        advice: {
          ...TREND.advice,
          advice: "too-few-sets",
          fatigue_threshold: null,
          reasons: ["There are 3 days, and 5 are wanted."],
        },
      },
    ),
  ),
  one: of(trend([{ on: 3, best_N: 1840 }], { side: null, style: "rest-pause" })),
  none: of(),
  unknown: of(trend([{ on: 0, best_N: null, threshold: null }])),
  "two-sides": of(
    trend(MANY.slice(0, 6), {
      changes: [{ ...RISE, to_value: 1039, change: 0.0263, is_real: false, calibration_changed: false }],
    }),
    trend(MANY.slice(6, 14), { side: "right" }),
  ),
  /** A year of three visits a week. */
  long: of(
    trend(YEAR, {
      changes: [
        {
          ...RISE,
          from_value: meanOf(YEAR.slice(0, 3)),
          to_value: meanOf(YEAR.slice(-3)),
          change: 0.2,
          from_days: 3,
          to_days: 3,
        },
      ],
    }),
  ),
};
