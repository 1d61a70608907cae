/**
 * From what was asked, the station's configuration and the trainee's record to a set ready to arm: every setting
 * resolved, warnings said, or one refusal. Here stands what each resistance, style and reading rate allow. Pure.
 */
import type { Refused } from "../../calibration/outcome.ts";
import { refusal } from "../../calibration/outcome.ts";
import type { ResolvedOptions } from "../../protocol/messages/set.ts";
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import { forceOut, fractionOut, timeOut } from "../../protocol/units.ts";
import type { Resistance, Style } from "../../protocol/vocabulary.ts";
import type { StationConfiguration } from "../configuration/schema.ts";
import type { History } from "../ports.ts";
import { onsetForce_N, type SetSetup } from "../set-engine/setup.ts";

/** The sensor as it stands when a set is asked for. */
export interface SensorFacts {
  readonly noise_N: number;
  readonly reading_rate_Hz: number;
  /** The board has named a muscle action since its line was opened. */
  readonly knows_muscle_action: boolean;
}

export interface Resolved {
  readonly setup: SetSetup;
  readonly exercise: string;
  readonly warnings: readonly string[];
}

/** Readings a second a style needs at least: slower ones would miss its peaks. */
const SLOWEST_HZ: Readonly<Record<Style, number>> = { hold: 8, "eccentric-only": 20, "rest-pause": 20, continuous: 40 };

const REST_LIMIT_S: Readonly<Record<Style, number | null>> = {
  hold: null,
  continuous: 8,
  "eccentric-only": 45,
  "rest-pause": 40,
};
const TIME_LIMIT_S: Readonly<Record<Style, number>> = {
  hold: 240,
  continuous: 300,
  "eccentric-only": 900,
  "rest-pause": 900,
};

/** Without a record of this trainee here, no set goes deeper than this unless it was asked for. */
const FIRST_THRESHOLD = 0.2;
/** A trainee's first eccentric sets at a station, and the efforts each may have: unaccustomed eccentric work harms. */
const FIRST_ECCENTRIC_SETS = 2;
const FIRST_ECCENTRIC_EFFORTS = 10;
/** At and under this threshold one weak repetition of a continuous set is chance. */
const SHALLOW_THRESHOLD = 0.25;

export function resolve(
  args: Omit<BeginArgs, "station">,
  station: StationConfiguration,
  sensor: SensorFacts,
  history: History,
): { readonly ok: true; readonly resolved: Resolved } | Refused {
  const style = args.style ?? station.style;
  const unsuited = unfit(style, args.fatigue_threshold !== undefined, station, sensor);
  if (unsuited !== null) return unsuited;
  const warnings: string[] = [];
  // Rounded before it is used: a set must have been judged by the very figures it names.
  const fatigue_threshold = fractionOut(threshold(args, station, style, history, warnings));
  const options = optionsOf(args, station, sensor, style, fatigue_threshold, history, warnings);
  const low = ceilingUnderOnset(options);
  if (low !== null) return low;
  const setup: SetSetup = {
    style,
    intent: args.intent ?? "maximal",
    resistance: station.resistance,
    fatigue_threshold,
    options,
    peaks_per_repetition: station.peaks_per_repetition,
    return_stroke: station.return_stroke,
    subtract_resting: station.subtract_resting,
    cell_capacity_N: station.cell_capacity_N,
    noise_N: sensor.noise_N,
    reading_rate_Hz: sensor.reading_rate_Hz,
    today_best_force_N: history.today_best_force_N,
    comparable_best_force_N: history.comparable?.best_force_N ?? null,
  };
  return { ok: true, resolved: { setup, exercise: args.exercise ?? station.exercise, warnings } };
}

/** Whether force loss means loss of strength here: only where the machine does not set the force. */
const comparesForce = (resistance: Resistance, style: Style): boolean =>
  resistance === "elastic" ? style === "hold" : resistance !== "stack";

/** Why a threshold means nothing here; null: it does. */
export function unshownLoss(style: Style, resistance: Resistance): Refused | null {
  if (comparesForce(resistance, style)) return null;
  const why =
    resistance === "stack"
      ? "On a stack of weights the force equals the load, fresh or spent, so it cannot show a loss of strength."
      : "On an elastic resistance the force follows the position, so only a hold in one position shows a loss.";
  const hint =
    resistance === "stack"
      ? "Test with a hold against the blocked lever before and after; or load (1 - threshold) of the tested best and press the key when it no longer moves."
      : "Choose a hold, or leave the threshold out and have efforts counted and timed.";
  return refusal("not-suited", why, hint);
}

export function ceilingUnderOnset({
  ceiling_force_N,
  onset_force_N,
}: Pick<ResolvedOptions, "ceiling_force_N" | "onset_force_N">): Refused | null {
  if (ceiling_force_N === null || ceiling_force_N > onset_force_N) return null;
  const why = `A ceiling of ${ceiling_force_N} N lies under the onset of ${onset_force_N.toFixed(0)} N.`;
  return refusal("bad-request", why, "Give a ceiling_force_N above the onset.");
}

/** Why a set of this style cannot be measured here; null: it can. */
export function unfit(
  style: Style,
  thresholdAsked: boolean,
  station: StationConfiguration,
  sensor: SensorFacts,
): Refused | null {
  const unshown = thresholdAsked ? unshownLoss(style, station.resistance) : null;
  if (unshown !== null) return unshown;
  if (style === "eccentric-only" && !sensor.knows_muscle_action && station.return_stroke !== "unloaded") {
    return refusal(
      "not-suited",
      "Eccentric efforts cannot be told from concentric ones here: the board names no muscle action and the return stroke is loaded.",
      'Move the machine once if its board knows the direction, or set return_stroke = "unloaded" where that is so.',
    );
  }
  const slowest_Hz = SLOWEST_HZ[style];
  if (sensor.reading_rate_Hz < slowest_Hz) {
    return refusal(
      "rate-too-low",
      `A ${style} set needs at least ${slowest_Hz} readings a second; this sensor gives ${sensor.reading_rate_Hz.toFixed(1)}.`,
      "Wire the amplifier for 80 readings a second, or choose a hold.",
    );
  }
  return null;
}

function threshold(
  args: Omit<BeginArgs, "station">,
  station: StationConfiguration,
  style: Style,
  history: History,
  warnings: string[],
): number | null {
  if (!comparesForce(station.resistance, style)) return null;
  const asked = args.fatigue_threshold;
  const usual = station.fatigue_threshold_percent / 100;
  if (asked === undefined && history.sets_here === 0 && usual > FIRST_THRESHOLD) {
    const whose = args.trainee === undefined ? "Nobody is named, so there is" : `${args.trainee} has`;
    warnings.push(
      `${whose} no record here: the set ends at 20 % instead of ${station.fatigue_threshold_percent} %. Ask for a threshold to go deeper.`,
    );
    return FIRST_THRESHOLD;
  }
  const chosen = asked ?? usual;
  if (chosen < 0.15)
    warnings.push("A threshold under 15 % may lie within the ups and downs of one effort to the next.");
  if (chosen > 0.7) warnings.push("A threshold over 70 % may never be reached, and costs long recovery.");
  return chosen;
}

function optionsOf(
  args: Omit<BeginArgs, "station">,
  station: StationConfiguration,
  sensor: SensorFacts,
  style: Style,
  fatigue_threshold: number | null,
  history: History,
  warnings: string[],
): ResolvedOptions {
  const asked = args.options ?? {};
  return roundedOptions({
    grace_s: asked.grace_s ?? 1,
    rest_limit_s: style === "hold" ? null : (asked.rest_limit_s ?? REST_LIMIT_S[style]),
    time_limit_s: asked.time_limit_s ?? TIME_LIMIT_S[style],
    effort_limit: effortLimit(asked.effort_limit ?? null, style, history, warnings),
    below_floor_to_stop: belowFloorToStop(asked.below_floor_to_stop, style, fatigue_threshold, warnings),
    onset_force_N: asked.onset_force_N ?? onsetForce_N({ ...station, noise_N: sensor.noise_N }),
    efforts_per_cluster: asked.efforts_per_cluster ?? 2,
    tested_best_force_N: asked.tested_best_force_N ?? null,
    best_from: asked.best_from ?? "set",
    ceiling_force_N: asked.ceiling_force_N ?? null,
  });
}

/** Rounded before they are used, like the threshold. */
export const roundedOptions = (options: ResolvedOptions): ResolvedOptions => ({
  ...options,
  grace_s: rounded(timeOut, options.grace_s),
  rest_limit_s: timeOut(options.rest_limit_s),
  time_limit_s: rounded(timeOut, options.time_limit_s),
  onset_force_N: rounded(forceOut, options.onset_force_N),
  tested_best_force_N: forceOut(options.tested_best_force_N),
  ceiling_force_N: forceOut(options.ceiling_force_N),
});

/** What is asked for and measured is finite, so its rounding is a number. */
const rounded = (out: (value: number) => number | null, value: number): number => out(value) ?? value;

function effortLimit(asked: number | null, style: Style, history: History, warnings: string[]): number | null {
  if (style !== "eccentric-only" || history.eccentric_sets_here >= FIRST_ECCENTRIC_SETS) return asked;
  const limit = Math.min(asked ?? FIRST_ECCENTRIC_EFFORTS, FIRST_ECCENTRIC_EFFORTS);
  warnings.push(`The first two eccentric sets here are limited to ${FIRST_ECCENTRIC_EFFORTS} efforts.`);
  return limit;
}

export function belowFloorToStop(
  asked: number | undefined,
  style: Style,
  fatigue_threshold: number | null,
  warnings: string[],
): number {
  if (style === "eccentric-only") {
    if (asked !== undefined && asked > 1)
      warnings.push("An eccentric set always ends at the first effort below the floor.");
    return 1;
  }
  const shallow = style === "continuous" && fatigue_threshold !== null && fatigue_threshold <= SHALLOW_THRESHOLD;
  return asked ?? (shallow ? 2 : 1);
}
