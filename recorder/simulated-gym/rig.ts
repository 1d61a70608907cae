/**
 * What stands between the handle and a count: lever friction, cell, amplifier. The truth is what this file is told; the
 * counts are what a recorder gets to see.
 *
 * Pure; noise comes from a seed and the number of the conversion. Amplifier after the HX711 datasheet (Avia): 24 bit,
 * two's complement, full scale +-0.5 excitation / gain, saturating at 8388607 and -8388608; input noise 50 nV rms at 10
 * and 90 nV rms at 80 conversions a second; offset drift 12 nV per degree, editions disagree by a factor of two. Cell:
 * about 2 mV/V at capacity; zero drift and creep of the size that OIML R 60 allows class C [from memory].
 */
import { SATURATED_HIGH_COUNTS, SATURATED_LOW_COUNTS } from "../../protocol/units.ts";
import { normalAt, seedFor, uniformAt } from "./random.ts";

export type Gain = 128 | 64;
export type Rate = 10 | 80;

export interface Rig {
  readonly cell_capacity_N: number;
  /** Output at capacity; negative: the wires are reversed. */
  readonly sensitivity_mV_per_V: number;
  /** Output with nothing on the cell. */
  readonly zero_mV_per_V: number;
  readonly excitation_V: number;
  /** Zero drift of the cell, as a fraction of capacity per degree. */
  readonly zero_drift_per_degC: number;
  /** Swing of the room's temperature about its mean, and how long one swing takes. */
  readonly temperature_swing_degC: number;
  readonly temperature_swing_s: number;
  /** The part of a load that the cell still gives in to after a long while, and its time constant. */
  readonly creep: number;
  readonly creep_s: number;
  /** Force that the lever's bearing takes either way. */
  readonly friction_N: number;
  /** Single conversions gone wrong, as from a motor starting nearby. */
  readonly spikes_per_hour: number;
  readonly spike_counts: number;
}

export interface RigState {
  /** What has got through the lever. */
  readonly cell_N: number;
  readonly crept_N: number;
  readonly conversions: number;
}

export interface Conversion {
  readonly state: RigState;
  readonly counts: number;
}

/** Input noise of the amplifier, nV rms. */
const NOISE_NV: Readonly<Record<Rate, number>> = { 10: 50, 80: 90 };
const OFFSET_DRIFT_NV_PER_DEGC = 12;

export const UNLOADED: RigState = { cell_N: 0, crept_N: 0, conversions: 0 };

/** Counts per mV/V: the excitation is also the amplifier's reference, so it cancels. 2147483.648 at gain 128. */
function countsPerRatio(gain: Gain): number {
  return (gain * 2 ** 24) / 1000;
}

/** One count at the amplifier's input, nV: 2.328 at 5 V and gain 128. */
function countAtInput_nV(rig: Rig, gain: Gain): number {
  return (rig.excitation_V / gain / 2 ** 24) * 1e9;
}

/** The true scale, before creep. */
export function trueCountsPerN(rig: Rig, gain: Gain): number {
  return (rig.sensitivity_mV_per_V * countsPerRatio(gain)) / rig.cell_capacity_N;
}

/** The true zero at the mean temperature. */
export function trueZeroCounts(rig: Rig, gain: Gain): number {
  return rig.zero_mV_per_V * countsPerRatio(gain);
}

/** Noise of one conversion, counts rms: 38.7 at 5 V, gain 128, 80 a second. */
export function noiseCounts(rig: Rig, gain: Gain, rate: Rate): number {
  return NOISE_NV[rate] / countAtInput_nV(rig, gain);
}

/** One conversion with `handle_N` on the handle, `elapsed_s` after the one before, at `at_s` of the rig's life. */
export function convert(
  rig: Rig,
  before: RigState,
  moment: {
    readonly handle_N: number;
    readonly elapsed_s: number;
    readonly at_s: number;
    readonly gain: Gain;
    readonly rate: Rate;
  },
  seed: number,
): Conversion {
  const { handle_N, gain } = moment;
  // Friction holds what it can: the cell follows only when the handle is further from it than the bearing takes.
  const cell_N = Math.min(Math.max(before.cell_N, handle_N - rig.friction_N), handle_N + rig.friction_N);
  const creeping = 1 - Math.exp(-moment.elapsed_s / rig.creep_s);
  const crept_N = before.crept_N + (rig.creep * cell_N - before.crept_N) * creeping;
  const warmer_degC = rig.temperature_swing_degC * Math.sin((2 * Math.PI * moment.at_s) / rig.temperature_swing_s);
  const drifted_N = rig.zero_drift_per_degC * rig.cell_capacity_N * warmer_degC;
  const index = before.conversions;
  const input_counts =
    (OFFSET_DRIFT_NV_PER_DEGC * warmer_degC) / countAtInput_nV(rig, gain) +
    noiseCounts(rig, gain, moment.rate) * normalAt(seed, index) +
    spike(rig, moment.elapsed_s, index, seed);
  const counts = Math.round(
    trueZeroCounts(rig, gain) + trueCountsPerN(rig, gain) * (cell_N + crept_N + drifted_N) + input_counts,
  );
  return {
    state: { cell_N, crept_N, conversions: index + 1 },
    counts: Math.min(Math.max(counts, SATURATED_LOW_COUNTS), SATURATED_HIGH_COUNTS),
  };
}

function spike(rig: Rig, elapsed_s: number, index: number, seed: number): number {
  const drawn = uniformAt(seedFor(seed, "spike"), index);
  const chance = (rig.spikes_per_hour * elapsed_s) / 3600;
  if (drawn >= chance) return 0;
  return drawn < chance / 2 ? -rig.spike_counts : rig.spike_counts;
}
