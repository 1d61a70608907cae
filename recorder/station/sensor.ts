/**
 * The sensor of a station: from one reading of the amplifier to a force, or to the reason why there is none. Holds what
 * has to be known of it between readings; one call a reading, so it is flat and seldom allocates more than itself.
 *
 * A force exists only where a record is in force, the board has said who it is, board, amplifier and gain are the
 * record's, and the amplifier is not at fault. Anything else is null, never zero.
 */

import {
  AMPLIFIER_UNSEEN,
  type AmplifierFaultEvent,
  type AmplifierFaults,
  stepAmplifierFaults,
} from "../../calibration/amplifier-faults.ts";
import { median3 } from "../../calibration/median.ts";
import { RATE_UNKNOWN, type ReadingRate, stepReadingRate } from "../../calibration/reading-rate.ts";
import type { CalibrationRecord } from "../../calibration/record.ts";
import { forceOf } from "../../calibration/scale.ts";
import { STILLNESS_UNKNOWN, type Stillness, stepStillness } from "../../calibration/stillness.ts";
import { startZero, stepZero, type Zero, zeroInUse_counts } from "../../calibration/zero/zero.ts";
import { stepZeroAfter, type ZeroAfter, type ZeroFound } from "../../calibration/zero/zero-after.ts";
import type { FoundZero, ZeroEffect, ZeroFacts } from "../../calibration/zero/zero-shift.ts";
import type { ReadingEvent } from "../../protocol/serial-line/events.ts";
import { type Overload, type OverloadEvent, stepOverload, UNLOADED } from "./overload.ts";

/** The record in force, and what follows from it. Changes only with a calibration or a hello. */
export interface Scale {
  readonly record: CalibrationRecord;
  readonly zero_facts: ZeroFacts;
  /** What the board is that the record is not of, in one sentence; null: they fit. */
  readonly mismatch: string | null;
  /** When it is to be looked at, with its checks reckoned in, ISO 8601 UTC; null: nobody has said. */
  readonly due: string | null;
}

export interface Sensor {
  readonly at_us: number;
  /** Raw counts of the last two readings; NaN: none in this epoch. */
  readonly before2: number;
  readonly before1: number;
  /** Median of three at the last reading, counts; NaN: not yet. */
  readonly median_counts: number;
  /** null: no valid reading. */
  readonly force_N: number | null;
  readonly amplifier: AmplifierFaults;
  readonly rate: ReadingRate;
  readonly stillness: Stillness;
  readonly overload: Overload;
  readonly zero: Zero | null;
  /** The set that is over, while its sensor comes to rest; null: none. */
  readonly after: ZeroAfter | null;
  readonly scale: Scale | null;
  /** Highest raw force of the last two seconds or so, to tell an overload that saturates from a broken wire. */
  readonly strongest_N: number;
  readonly readings_lost: number;
  readonly knows_muscle_action: boolean;
}

export const NO_SENSOR: Sensor = {
  at_us: 0,
  before2: Number.NaN,
  before1: Number.NaN,
  median_counts: Number.NaN,
  force_N: null,
  amplifier: AMPLIFIER_UNSEEN,
  rate: RATE_UNKNOWN,
  stillness: STILLNESS_UNKNOWN,
  overload: UNLOADED,
  zero: null,
  after: null,
  scale: null,
  strongest_N: 0,
  readings_lost: 0,
  knows_muscle_action: false,
};

/** What the station tells of itself with each reading. */
export interface SensorRules {
  readonly cell_capacity_N: number;
  readonly force_limit_N: number;
  /** Nobody is armed or in a set, and no calibration is open. */
  readonly idle: boolean;
  /** A board that may average or round repeats itself without being stuck. */
  readonly watch_stuck: boolean;
}

export interface SensorStep {
  readonly sensor: Sensor;
  readonly faults: readonly AmplifierFaultEvent[];
  readonly overloads: readonly OverloadEvent[];
  readonly zero: readonly ZeroEffect[];
  /** Where the sensor came to rest after a set. */
  readonly drifted: ZeroFound | null;
}

const NONE: readonly never[] = [];
/** How fast the memory of the strongest force fades: halved in about a second. */
const FADING_S = 1.5;

export function readSensor(was: Sensor, reading: ReadingEvent, rules: SensorRules): SensorStep {
  const { at_us, counts } = reading;
  const amplifier = stepAmplifierFaults(was.amplifier, { kind: "reading", at_us, counts }, rules.watch_stuck);
  const median_counts = median3(was.before2, was.before1, counts);
  const rate = stepReadingRate(was.rate, at_us);
  const { scale } = was;
  let { stillness, overload, zero, after, strongest_N } = was;
  let force_N: number | null = null;
  let overloads: readonly OverloadEvent[] = NONE;
  let zeroed: readonly ZeroEffect[] = NONE;
  let drifted: ZeroFound | null = null;
  const valid = amplifier.state.fault === null && !Number.isNaN(median_counts);
  if (scale !== null && scale.mismatch === null && zero !== null && valid) {
    const { counts_per_N } = scale.zero_facts;
    const zero_counts = zeroInUse_counts(zero, scale.zero_facts);
    const raw_N = forceOf(counts, zero_counts, counts_per_N);
    force_N = forceOf(median_counts, zero_counts, counts_per_N);
    const loaded = stepOverload(overload, raw_N, rules.force_limit_N);
    overload = loaded.state;
    overloads = loaded.events;
    strongest_N = Math.max(Math.abs(force_N), strongest_N * (1 - Math.min(1, (at_us - was.at_us) / (FADING_S * 1e6))));
    if (rules.idle) stillness = stepStillness(stillness, at_us, force_N, rules.cell_capacity_N);
    const still = rules.idle && stillness.judged.still;
    const rest = { kind: "reading", at_us, counts: median_counts, idle: rules.idle, still } as const;
    const step = stepZero(zero, rest, scale.zero_facts);
    zero = step.state;
    zeroed = step.effects;
    if (after !== null) ({ watch: after, found: drifted } = stepZeroAfter(after, rest));
  }
  return {
    sensor: {
      at_us,
      before2: was.before1,
      before1: counts,
      median_counts,
      force_N,
      amplifier: amplifier.state,
      rate,
      stillness,
      overload,
      zero,
      after,
      scale,
      strongest_N,
      readings_lost: reading.lost === 0 ? was.readings_lost : was.readings_lost + reading.lost,
      knows_muscle_action: was.knows_muscle_action || reading.muscle_action !== null,
    },
    faults: amplifier.events,
    overloads,
    zero: zeroed,
    drifted,
  };
}

/** The line was opened again or the board restarted: nothing measured before holds. Zero and record stay. */
export function newEpoch(was: Sensor, detail: string): SensorStep {
  const amplifier = stepAmplifierFaults(was.amplifier, { kind: "epoch" }, true);
  const zero =
    was.zero === null || was.scale === null
      ? null
      : stepZero(was.zero, { kind: "interrupted", detail }, was.scale.zero_facts);
  return {
    sensor: {
      ...NO_SENSOR,
      at_us: was.at_us,
      stillness: afresh(was.stillness),
      // An overload is over when the force is down again, not when the board starts anew.
      overload: { ...UNLOADED, above: was.overload.above },
      zero: zero?.state ?? null,
      scale: was.scale,
      readings_lost: was.readings_lost,
    },
    faults: amplifier.events,
    overloads: NONE,
    zero: zero?.effects ?? NONE,
    drifted: null,
  };
}

/** The amplifier was set otherwise: what it said before is on another scale, or came at another rate. */
export function resettled(was: Sensor): Sensor {
  const { before1, before2, median_counts, force_N, rate } = NO_SENSOR;
  return { ...was, before1, before2, median_counts, force_N, rate, after: null, stillness: afresh(was.stillness) };
}

/** Not still, but as noisy as it was known to be. */
const afresh = ({ judged }: Stillness): Stillness => ({ ...STILLNESS_UNKNOWN, judged: { ...judged, still: false } });

/** Another record is in force, with the zero that was saved for it. */
export function withRecord(was: Sensor, scale: Scale, saved: FoundZero | null): Sensor {
  return { ...was, scale, zero: startZero(saved, scale.zero_facts), stillness: STILLNESS_UNKNOWN, force_N: null };
}

export const withMismatch = (was: Sensor, mismatch: string | null): Sensor =>
  was.scale === null || was.scale.mismatch === mismatch
    ? was
    : { ...was, force_N: mismatch === null ? was.force_N : null, scale: { ...was.scale, mismatch } };

/** A saturation that follows a strong force is the load's doing; any other, a wire's. */
export const wasNearlyFull = (sensor: Sensor, cell_capacity_N: number): boolean =>
  sensor.strongest_N > 0.8 * cell_capacity_N;

export function scaleOf(
  record: CalibrationRecord,
  cell_capacity_N: number,
  mismatch: string | null,
  due = record.due,
): Scale {
  const { calibration_id, zero_counts, counts_per_N } = record;
  return {
    record,
    mismatch,
    due,
    zero_facts: { calibration_id, capacity_N: cell_capacity_N, zero_counts, counts_per_N },
  };
}
