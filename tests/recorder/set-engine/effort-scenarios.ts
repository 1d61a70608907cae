/** Sets of efforts. */
import type { Scenario } from "./transcript.ts";

type Corner = readonly [number, number];

/** Efforts every `spacing_s` from 1 s on: up in 0.3 s, held, down in 0.3 s, 1.5 s in all; `between_N` between them. */
function efforts(peaks: readonly number[], { spacing_s = 3, between_N = 0, from_s = 1 } = {}): Corner[] {
  return peaks.flatMap((peak_N, index): Corner[] => {
    const at_s = Number((from_s + index * spacing_s).toFixed(3));
    const corner = (into_s: number, force_N: number): Corner => [Number((at_s + into_s).toFixed(3)), force_N];
    return [corner(0, between_N), corner(0.3, peak_N), corner(1.2, peak_N), corner(1.5, between_N)];
  });
}

/** Clusters begin at the given moments; inside one, efforts follow each other every 3 s. */
const clusters = (...all: readonly (readonly [number, readonly number[]])[]): Corner[] =>
  all.flatMap(([from_s, peaks]) => efforts(peaks, { from_s }));

/** Up at 800 N and down at 1080 N without letting go between the two: 300 N there, `deep_N` between repetitions. */
function repetitions(shares: readonly number[], deep_N = 0): Corner[] {
  return [
    [1, deep_N],
    ...shares.flatMap((share, index): Corner[] => {
      const at_s = 1 + 3 * index;
      const corner = (into_s: number, force_N: number): Corner => [
        Number((at_s + into_s).toFixed(3)),
        Math.round(force_N),
      ];
      return [
        corner(0.3, 800 * share),
        corner(1.2, 800 * share),
        corner(1.5, 300 * share),
        corner(1.8, 1080 * share),
        corner(2.7, 1080 * share),
        corner(3, deep_N),
      ];
    }),
  ];
}

const CONTINUOUS = { style: "continuous" } as const;

export const EFFORT_SCENARIOS: readonly Scenario[] = [
  {
    name: "continuous-to-the-floor",
    says: "Repetitions every 3 s, peaks from 1000 N down to 590 N. The floor is 600 N from the second on; the last one is below it, and it is called when its peak is behind, before it is let go.",
    setup: CONTINUOUS,
    corners: efforts([1000, 1000, 950, 900, 830, 760, 690, 610, 590, 500]),
    lasts_s: 40,
  },
  {
    name: "continuous-test-push-and-touch",
    says: "A weak test push first delays the best by one effort; a touch later on is listed and not counted; a quick hard one is brief and raises nothing.",
    setup: CONTINUOUS,
    corners: [
      [1, 0],
      [1.2, 200],
      [1.7, 200],
      [1.9, 0],
      ...efforts([1000, 1000], { from_s: 4 }),
      [10, 0],
      [10.1, 150],
      [10.4, 150],
      [10.5, 0],
      [13, 0],
      [13.1, 1090],
      [13.6, 1090],
      [13.7, 0],
      ...efforts([1000, 580], { from_s: 16 }),
    ],
    lasts_s: 40,
  },
  {
    name: "continuous-jerky-first-effort",
    says: "A best of 500 N was tested; the first effort is a jerk to 1900 N. It may not set the floor alone: with the second, at 1000 N, best is 1.10 times that, and the set goes on.",
    setup: { ...CONTINUOUS, options: { tested_best_force_N: 500 } },
    corners: efforts([1900, 1000, 1000, 1000, 640]),
    lasts_s: 40,
  },
  {
    name: "continuous-breathing-pauses",
    says: "Pauses of 5 and 7 s to breathe stay inside the rest limit of 8 s; half of it blinks. The last pause is too long.",
    setup: CONTINUOUS,
    corners: [...efforts([1000, 990]), ...efforts([980], { from_s: 10.5 }), ...efforts([970], { from_s: 19 })],
    lasts_s: 40,
  },
  {
    name: "continuous-never-letting-go",
    says: "A tired trainee never lets go: 250 N remain between repetitions. Each ends at the valley; the one below the floor is called as soon as its peak is certain.",
    setup: CONTINUOUS,
    corners: [
      [0.5, 0],
      ...efforts([1000, 980, 940, 880, 800, 700, 580, 560], { between_N: 250, spacing_s: 2 }),
      [30, 250],
    ],
    lasts_s: 30,
  },
  {
    name: "continuous-bounce",
    says: "A bounce on the handle: two tops 0.3 s apart are one effort.",
    setup: CONTINUOUS,
    corners: [
      ...efforts([1000, 1000]),
      [7, 0],
      [7.2, 950],
      [7.3, 950],
      [7.42, 500],
      [7.5, 950],
      [7.6, 950],
      [8.5, 900],
      [8.7, 0],
    ],
    others: [{ kind: "end", at_us: 10_000_000, because: "done" }],
    lasts_s: 10,
  },
  {
    name: "continuous-hanging",
    says: "After three repetitions the trainee hangs on at 450 N, between attempt level (300 N) and floor: that counts as one below the floor after 1.5 times the median time between peaks, 4.5 s.",
    setup: CONTINUOUS,
    corners: [...efforts([1000, 1000]), [7, 0], [7.3, 1000], [8.2, 1000], [8.5, 450], [30, 450]],
    lasts_s: 30,
  },
  {
    name: "continuous-hanging-then-recovering",
    says: "At 20 % two efforts below the floor are needed. The trainee hangs at 600 N long enough for one, then comes up to 950 N after all: judged by that peak, it starts the row anew.",
    setup: { ...CONTINUOUS, fatigue_threshold: 0.2, options: { below_floor_to_stop: 2 } },
    corners: [
      ...efforts([1000, 1000]),
      [7, 0],
      [7.3, 1000],
      [8.2, 1000],
      [8.5, 600],
      [14.5, 600],
      [15, 950],
      [15.9, 950],
      [16.2, 0],
      ...efforts([700, 690], { from_s: 18 }),
    ],
    lasts_s: 40,
  },
  {
    name: "continuous-two-to-stop",
    says: "Two in a row below the floor: one alone, with a good one after it, does not end the set.",
    setup: { ...CONTINUOUS, fatigue_threshold: 0.25, options: { below_floor_to_stop: 2 } },
    corners: efforts([1000, 1000, 740, 900, 740, 730, 720]),
    lasts_s: 40,
  },
  {
    name: "halves-two-peaks",
    says: "Up at 800 N, down at 1080 N, no muscle action: with two peaks a repetition its peak is the higher, and at 20 % the lifting halves under the floor of 864 N end nothing. The sixth repetition as a whole is below it.",
    setup: { ...CONTINUOUS, fatigue_threshold: 0.2, peaks_per_repetition: 2 },
    corners: repetitions([1, 1, 1, 1, 1, 0.78, 0.7]),
    lasts_s: 35,
  },
  {
    name: "halves-one-peak",
    says: "The same force counted with one peak a repetition: each half is an effort, and the first lifting half that is compared is already below the floor. This is what the setting is for.",
    setup: { ...CONTINUOUS, fatigue_threshold: 0.2 },
    corners: repetitions([1, 1, 1, 1, 1, 0.78, 0.7]),
    lasts_s: 35,
  },
  {
    name: "muscle-action-known-continuous",
    says: "Up at 800 N, down at 1080 N, and the board says which: concentric efforts decide, best is not fused. The fourth concentric effort is below 480 N, whatever the eccentric ones still manage.",
    setup: CONTINUOUS,
    corners: [
      [1, 0],
      [1.3, 800],
      [2.5, 800],
      [2.7, 1080],
      [3.9, 1080],
      [4, 790],
      [5.5, 790],
      [5.7, 1080],
      [6.9, 1080],
      [7, 640],
      [8.5, 640],
      [8.7, 1080],
      [9.9, 1080],
      [10, 470],
      [11, 460],
      [11.1, 380],
      [13, 380],
    ],
    actions: [
      [1, "concentric"],
      [2.5, "eccentric"],
      [4, "concentric"],
      [5.5, "eccentric"],
      [7, "concentric"],
      [8.5, "eccentric"],
      [10, "concentric"],
      [13, "eccentric"],
    ],
    lasts_s: 14,
  },
  {
    name: "muscle-action-becomes-unknown",
    says: "The board stops saying the muscle action in the middle of an effort: what began as concentric ends as concentric.",
    setup: CONTINUOUS,
    corners: efforts([800, 800, 790]),
    actions: [
      [0, "concentric"],
      [4.6, null],
      [7, "concentric"],
    ],
    others: [{ kind: "end", at_us: 10_000_000, because: "done" }],
    lasts_s: 10,
  },
  {
    name: "eccentric-only-both-actions",
    says: "Eccentric-only on a station that resists both ways: eccentric efforts decide, and their catch, the first 0.3 s at 1600 N, raises no best.",
    setup: { style: "eccentric-only" },
    corners: [
      ...[0, 1, 2].flatMap((index): Corner[] => {
        const at_s = 1 + 8 * index;
        const held_N = [1000, 950, 590][index] as number;
        return [
          [at_s, 0],
          [at_s + 0.2, 400],
          [at_s + 1.8, 400],
          [at_s + 2, 1600],
          [at_s + 2.3, 1600],
          [at_s + 2.4, held_N],
          [at_s + 4.8, held_N],
          [at_s + 5, 0],
        ];
      }),
    ],
    actions: [0, 1, 2].flatMap(
      (index) =>
        [
          [1 + 8 * index, "concentric"],
          [2.9 + 8 * index, "eccentric"],
        ] as const,
    ),
    lasts_s: 30,
  },
  {
    name: "eccentric-only-limited",
    says: "A first eccentric set is limited to 10 efforts; here to 3.",
    setup: { style: "eccentric-only", options: { effort_limit: 3 } },
    corners: efforts([1000, 1000, 990, 990], { spacing_s: 10 }),
    lasts_s: 50,
  },
  {
    name: "rest-pause-one",
    says: "Clusters of one: every effort is compared.",
    setup: { style: "rest-pause", options: { efforts_per_cluster: 1 } },
    corners: clusters([1, [1000]], [20, [980]], [40, [590]]),
    lasts_s: 90,
  },
  {
    name: "rest-pause-two",
    says: "Clusters of two, compared by their higher peak: 500 and 900 N pass, 580 and 560 N do not.",
    setup: { style: "rest-pause" },
    corners: clusters([1, [1000, 980]], [20, [500, 900]], [40, [580, 560]]),
    lasts_s: 90,
  },
  {
    name: "rest-pause-four-cut-by-the-gap",
    says: "Clusters of four. The second stops after two efforts below the floor: 6 s without another complete it, and the call comes by itself.",
    setup: { style: "rest-pause", options: { efforts_per_cluster: 4 } },
    corners: clusters([1, [1000, 990, 980, 960]], [30, [590, 580]]),
    lasts_s: 60,
  },
  {
    name: "rest-pause-rest-limit",
    says: "Rest counts between clusters: 40 s, a short blink at 20.",
    setup: { style: "rest-pause" },
    corners: clusters([1, [1000, 980]]),
    lasts_s: 60,
  },
  {
    name: "stack-of-weights",
    says: "On a stack force equals load, fresh or spent: efforts are counted and timed, nothing is compared, the rest ends it.",
    setup: { ...CONTINUOUS, resistance: "stack", fatigue_threshold: null },
    corners: efforts([500, 500, 498, 300]),
    lasts_s: 40,
  },
  {
    name: "resting-leg-not-subtracted",
    says: "A resting leg of 80 N, taken while armed and not subtracted: onset 100 N, release 92 N; the forces keep the leg's weight.",
    setup: CONTINUOUS,
    corners: [[0, 80], ...efforts([1000, 950, 590], { between_N: 80, from_s: 4 }), [20, 80]],
    others: [{ kind: "resting", at_us: 1_000_000 }],
    lasts_s: 30,
  },
  {
    name: "resting-leg-not-taken",
    says: "The same leg, resting force not taken: 80 N are above the onset of 20 N when armed, and the release of 12 N is never met; efforts end at their valleys.",
    setup: CONTINUOUS,
    corners: [[0, 0], [0.5, 80], ...efforts([1000, 950, 590], { between_N: 80, from_s: 4 }), [20, 80]],
    lasts_s: 30,
  },
  {
    name: "continuous-gap-in-an-effort",
    says: "0.2 s without readings inside an effort are bridged, 0.6 s inside the next break it: its impulse lacks what was not measured.",
    setup: CONTINUOUS,
    corners: efforts([1000, 1000, 1000]),
    trace: {
      lost: [
        [1.6, 1.8],
        [4.5, 5.1],
      ],
    },
    lasts_s: 17,
  },
  {
    name: "continuous-gap-in-the-rest",
    says: "1.2 s without readings between two efforts: sensor-fault. The duration ends with the last counted effort.",
    setup: CONTINUOUS,
    corners: efforts([1000, 1000, 1000]),
    trace: { lost: [[5.8, 7.0]] },
    lasts_s: 12,
  },
  {
    name: "continuous-sudden-loss",
    says: "On a driven station the third effort gives way to less than half within 0.3 s, well before efforts of this set end: told at once.",
    setup: CONTINUOUS,
    corners: [...efforts([1000, 1000]), [7, 0], [7.3, 1000], [7.5, 1000], [7.6, 350], [9, 350], [9.1, 0]],
    lasts_s: 20,
  },
  {
    name: "continuous-too-short-at-first",
    says: "A knock of 0.2 s begins nothing: armed again. The set begins with the first real effort.",
    setup: CONTINUOUS,
    corners: [[1, 0], [1.05, 400], [1.15, 400], [1.2, 0], ...efforts([1000, 1000], { from_s: 3 })],
    others: [{ kind: "end", at_us: 8_000_000, because: "technique" }],
    lasts_s: 8,
  },
  {
    name: "continuous-interrupted",
    says: "The recorder was restarted in an effort: kept as far as it got.",
    setup: CONTINUOUS,
    corners: efforts([1000, 1000, 1000]),
    others: [{ kind: "interrupted", at_us: 60_000_000 }],
    lasts_s: 8,
  },
  {
    name: "continuous-ended-in-first-effort",
    says: "Ended by the key a moment after the first onset: no set.",
    setup: CONTINUOUS,
    corners: efforts([1000]),
    others: [{ kind: "end", at_us: 1_200_000, because: "mistake" }],
    lasts_s: 3,
  },
  {
    name: "continuous-tested-best-first-effort",
    says: "With a tested best of 1000 N the floor of 600 N stands from the first effort on, and a first effort of 550 N is over at once.",
    setup: { ...CONTINUOUS, options: { tested_best_force_N: 1000 } },
    corners: efforts([550, 1000]),
    lasts_s: 10,
  },
];
