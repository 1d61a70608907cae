/**
 * A set as it is armed: everything resolved, nothing left to look up. The engine reads it and never changes it.
 * Forces in N, zero removed; times in s; fractions 0..1.
 */
import type { ResolvedOptions } from "../../protocol/messages/set.ts";
import type { Intent, Resistance, Style } from "../../protocol/vocabulary.ts";

export interface SetSetup {
  readonly style: Style;
  readonly intent: Intent;
  readonly resistance: Resistance;
  /** null: nothing is compared (a stack of weights), efforts are counted and timed only. */
  readonly fatigue_threshold: number | null;
  readonly options: ResolvedOptions;
  readonly peaks_per_repetition: 1 | 2;
  /** Where muscle action is not known, an eccentric-only effort is what the unloaded return stroke leaves. */
  readonly return_stroke: "loaded" | "unloaded";
  readonly subtract_resting: boolean;
  readonly cell_capacity_N: number;
  /** Standard deviation of the force at rest when armed. */
  readonly noise_N: number;
  /** Measured when armed. */
  readonly reading_rate_Hz: number;
  /** Today's best of this trainee here; used where `best_from` says so. */
  readonly today_best_force_N: number | null;
  /** Best of the trainee's newest comparable set; a hold let go under half of it was a false start. */
  readonly comparable_best_force_N: number | null;
}

/** Version of the rules: a stored set names the one that judged it. */
export const ENGINE_VERSION = "1";

export const ARMED_LIMIT_S = 180;
export const SHORTEST_EFFORT_S = 0.3;
/** Share of the onset at which an effort is over: the distance keeps noise at the edge from toggling it. */
export const RELEASE_SHARE = 0.6;
/** Share of the floor under which force is rest, or no attempt. */
export const ATTEMPT_SHARE = 0.5;
/** Reserve at and below which the trainee is nearing the floor. */
export const NEARING_RESERVE = 0.25;

export const HOLD_SMOOTHING_S = 1;
/** The next second must reach this share of a second of a hold before that second may set the best. */
export const HOLD_CONFIRMING_SHARE = 0.95;
/** A hold is not judged before this, and one let go earlier was a false start. */
export const HOLD_EARLIEST_S = 2;

export const EFFORT_SMOOTHING_S = 0.2;
/** Spread of a smoothing window over its mean, above which it is a jerk and no level. */
export const STEADY_SPREAD = 0.15;
/** One peak may stand above the second highest by so much and no more. */
export const CONFIRMED_RATIO = 1.1;
export const BRIEF_SHARE = 0.6;
/**
 * The start of an eccentric effort is the catching of the load, and the start of any effort that begins where another
 * muscle action ends is what is left of that one: neither is its strength.
 */
export const BLIND_S = 0.3;
export const PEAKS_APART_S = 0.4;
/** A known muscle action may hold two peaks; once its level has fallen to this share of the first, none follows. */
export const SPENT_SHARE = 0.5;
export const PROMINENCE_NOISES = 6;
export const PROMINENCE_SHARE = 0.15;
export const HANGING_SHORTEST_S = 3;
export const HANGING_SPACINGS = 1.5;
/** Efforts closer than this are one cluster. */
export const CLUSTER_GAP_S = 6;
/** A half repetition left alone this long, half the rest a continuous set allows, will not find its other half. */
export const LONE_HALF_S = 4;

/** The decline of a shorter stretch says nothing. */
export const SHORTEST_DECLINE_S = 3;

/** A gap of device time up to this is bridged. */
export const BRIDGED_GAP_S = 0.3;
/** An interval longer than so many periods is a gap at all: jitter of 20 % stretches one to 1.4. */
export const GAP_PERIODS = 1.75;
/** A gap ends the set at the greater of one second and so many periods. */
const LOST_PERIODS = 5;
/** Losing more than half within this, under load, sounds lamp 2 at once. */
export const SUDDEN_LOSS_S = 0.3;

/** Resting force: one still second, within this share of capacity. */
export const RESTING_WINDOW_S = 1;
export const RESTING_LIMIT_SHARE = 0.1;

/** The onset above the resting force, N: clear of noise, of a resting hand and of what the machine itself moves. */
export function onsetForce_N(facts: { noise_N: number; cell_capacity_N: number; idle_stroke_N: number }): number {
  return Math.max(20, 8 * facts.noise_N, 0.01 * facts.cell_capacity_N, 2 * facts.idle_stroke_N);
}

/** Silence or a gap so long ends a set: the greater of 1 s and five periods, s. */
export function lostAfter_s(reading_rate_Hz: number): number {
  return Math.max(1, LOST_PERIODS / reading_rate_Hz);
}
