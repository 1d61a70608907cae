/**
 * What the gym's people did in the weeks before, so that a trend has something to show: an invention like the rest. One gets
 * stronger and stops at a smaller loss since; one stays as they are, on both sides; one comes tired to the last visit.
 *
 * Pure: a day's form is noise addressed by the day.
 */
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import { JOINT_REGIONS } from "./fatigue.ts";
import { normalAt, seedFor } from "./random.ts";
import type { Trainee } from "./trainee.ts";
import { strongFastFatiguing, trainee } from "./trainees.ts";

export interface EarlierVisit {
  readonly station: string;
  /** As strong as on that day. */
  readonly trainee: Trainee;
  readonly begin: Omit<BeginArgs, "station" | "trainee">;
  readonly setup: Readonly<Record<string, string>>;
  readonly days_ago: number;
}

interface Course {
  readonly station: string;
  readonly trainee: Trainee;
  readonly side: "left" | "right" | "both";
  readonly setup: Readonly<Record<string, string>>;
  readonly every_days: number;
  readonly visits: number;
  /** Of one day to another, as a fraction; without it nobody would be a person. */
  readonly scatter: number;
  /** How strong they are `visit` (0 the first) compared with the first. */
  readonly form: (visit: number) => number;
  readonly threshold: (visit: number) => number;
}

const COURSES: readonly Course[] = [
  {
    station: "leg-press",
    trainee: strongFastFatiguing("otter-14"),
    side: "both",
    setup: { seat: "4", plate: "high" },
    every_days: 4,
    visits: 20,
    scatter: 0.02,
    form: (visit) => 0.82 + 0.18 * Math.min(1, visit / 18),
    threshold: (visit) => (visit < 10 ? 0.4 : 0.35),
  },
  ...(["left", "right"] as const).map((side) => ({
    station: "knee-extension",
    trainee: trainee("wren-21", side === "left" ? 520 : 575, JOINT_REGIONS.knee, { style: "hold" }),
    side,
    setup: { seat: "2", pin: "6" },
    every_days: 7,
    visits: 12,
    scatter: 0.035,
    form: () => 1,
    threshold: () => 0.2,
  })),
  {
    station: "pull-down",
    trainee: trainee("ibex-03", 1000, JOINT_REGIONS.knee, { style: "eccentric-only", eccentric_s: 4, return_s: 3 }),
    side: "both",
    setup: { handle: "wide" },
    every_days: 5,
    visits: 14,
    scatter: 0.025,
    form: (visit) => (visit === 13 ? 0.84 : 1),
    threshold: () => 0.25,
  },
];

/** Oldest first. The last visit of each was some days ago. */
export function earlierVisits(seed: number): readonly EarlierVisit[] {
  return COURSES.flatMap((course) =>
    Array.from({ length: course.visits }, (_, visit): EarlierVisit => {
      const { station, side, setup } = course;
      const noise = normalAt(seedFor(seed, `${course.trainee.code} ${station} ${side}`), visit);
      return {
        station,
        trainee: stronger(course.trainee, course.form(visit) * (1 + course.scatter * noise)),
        begin: { side, fatigue_threshold: course.threshold(visit) },
        setup,
        days_ago: 1 + course.every_days * (course.visits - 1 - visit),
      };
    }),
  ).sort((one, other) => other.days_ago - one.days_ago);
}

function stronger(whom: Trainee, by: number): Trainee {
  const { concentric, eccentric, isometric } = whom.strength_N;
  return { ...whom, strength_N: { concentric: by * concentric, eccentric: by * eccentric, isometric: by * isometric } };
}

/** What their trainers decided. */
export const EARLIER_PLANS = [
  {
    station: "leg-press",
    trainee: "otter-14",
    sides: ["both"],
    fatigue_threshold: 0.35,
    setup: { seat: "4", plate: "high" },
    rest_s: 180,
  },
  {
    station: "knee-extension",
    trainee: "wren-21",
    sides: ["left", "right"],
    fatigue_threshold: 0.2,
    setup: { seat: "2", pin: "6" },
    rest_s: 120,
  },
  {
    station: "pull-down",
    trainee: "ibex-03",
    sides: ["both"],
    fatigue_threshold: 0.25,
    setup: { handle: "wide" },
    rest_s: 240,
  },
] as const;
