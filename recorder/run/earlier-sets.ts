/**
 * A set of days ago: its readings taken through zero, engine and message as those of a set of today, only at once. For the
 * simulated gym, whose people trained before anybody looked.
 */
import type { CalibrationRecord } from "../../calibration/record.ts";
import { summarise } from "../../calibration/statistics.ts";
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import type { MuscleAction } from "../../protocol/vocabulary.ts";
import type { SetToImport } from "../care-ports.ts";
import type { StationConfiguration } from "../configuration/schema.ts";
import { NO_HISTORY } from "../ports.ts";
import type { ArmFacts } from "../station/arm-facts.ts";
import { resolve } from "../station/resolve.ts";
import { beginLog, logReading, wholeLog } from "../station/set-log.ts";
import { type Kept, setMessageOf } from "../station/set-message.ts";
import { beginPath, pathReading } from "../station/set-path.ts";
import { setupText } from "../station/setup-notes.ts";
import { encodeInputLog } from "../store/input-log.ts";

export interface EarlierSet {
  readonly set_id: string;
  readonly station: StationConfiguration;
  readonly calibration: CalibrationRecord;
  readonly trainee: string;
  readonly begin: Omit<BeginArgs, "station" | "trainee">;
  readonly setup: Readonly<Record<string, string>>;
  /** When its first conversion came. */
  readonly wall_ms: number;
}

interface Conversion {
  readonly at_us: number;
  readonly counts: number;
  readonly muscle_action: MuscleAction | null;
}

/** With nobody there: the zero is taken, and how noisy the sensor is. */
export const EMPTY_S = 3;

/**
 * Takes the set's conversions, the first `EMPTY_S` of an empty machine's, and answers whether it is over; then `toImport`
 * gives it. Throws where the station does not suit it: an invented set must be one that could have been begun.
 */
export function takeEarlierSet(set: EarlierSet, kept: Kept) {
  const empty: Conversion[] = [];
  let running: { path: ReturnType<typeof beginPath>; log: ReturnType<typeof beginLog> } | null = null;
  return {
    take(conversion: Conversion): boolean {
      const { at_us, counts, muscle_action } = conversion;
      if (running === null) {
        empty.push(conversion);
        if (at_us < EMPTY_S * 1e6) return false;
        const facts = factsOf(set, empty);
        running = { path: beginPath(facts), log: beginLog(facts) };
        return false;
      }
      const { path } = pathReading(running.path, at_us, counts, muscle_action);
      running = { path, log: logReading(running.log, at_us, counts, muscle_action) };
      return path.engine.is === "over" || path.engine.is === "disarmed";
    },
    toImport(): SetToImport {
      if (running?.path.engine.is !== "over") throw new Error(`no set came of ${set.trainee} at ${set.station.id}`);
      const { path, log } = running;
      const message = setMessageOf(path, running.path.engine.result, kept);
      return {
        set_id: set.set_id,
        setup: setupText(set.setup),
        log: encodeInputLog(wholeLog(log)),
        revisions: [{ message: JSON.stringify(message), performed_by: null, revised_at: null }],
      };
    },
  };
}

function factsOf(set: EarlierSet, empty: readonly Conversion[]): ArmFacts {
  const { station, calibration, begin } = set;
  const { mean, sd } = summarise(empty.map(({ counts }) => counts));
  const last_us = empty.at(-1)?.at_us ?? 0;
  const sensor = {
    noise_N: sd / Math.abs(calibration.counts_per_N),
    reading_rate_Hz: ((empty.length - 1) * 1e6) / (last_us - (empty[0]?.at_us ?? 0)),
    knows_muscle_action: station.return_stroke !== "unloaded" && station.resistance === "driven",
  };
  const made = resolve({ ...begin, trainee: set.trainee }, station, sensor, { ...NO_HISTORY, eccentric_sets_here: 2 });
  if (!made.ok) throw new Error(made.error.message);
  const { setup, exercise } = made.resolved;
  return {
    arm_version: 1,
    set_id: set.set_id,
    station: station.id,
    exercise,
    exercise_label: station.exercise_label ?? exercise,
    trainee: set.trainee,
    side: begin.side ?? null,
    warm_up: false,
    performed_by: null,
    set_of_day: 1,
    last_set_ended_at: null,
    setup_notes: { ...set.setup },
    setup,
    at_us: last_us,
    wall_ms: set.wall_ms + last_us / 1000,
    clock_synced: true,
    simulated: true,
    calibration,
    zero_counts: mean,
    warming_up: false,
    before_counts: empty.slice(-2).map(({ counts }) => counts),
  };
}
