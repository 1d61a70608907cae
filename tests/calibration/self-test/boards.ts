/**
 * Invented boards at rest for a day: a good one and three bad ones. Each gives a sample of ten seconds at a time of day; the
 * cell, its noise and its drift with the room's temperature are the simulated rig's. Everything follows from a seed.
 */

import type { Sample, SensorFacts } from "../../../calibration/self-test/sample.ts";
import { BARE_CLOSED, type BareSource, openBare, readBare } from "../../../protocol/serial-line/bare.ts";
import { normalAt, seedFor, uniformAt } from "../../../recorder/simulated-gym/random.ts";
import { convert, type Rig, trueCountsPerN, trueZeroCounts, UNLOADED } from "../../../recorder/simulated-gym/rig.ts";

export const DAY_S = 86_400;

export const RIG: Rig = {
  cell_capacity_N: 2000,
  sensitivity_mV_per_V: 2,
  zero_mV_per_V: 0.05,
  excitation_V: 5,
  zero_drift_per_degC: 1e-4,
  temperature_swing_degC: 6,
  temperature_swing_s: DAY_S,
  creep: 2e-4,
  creep_s: 300,
  friction_N: 0.3,
  spikes_per_hour: 1,
  spike_counts: 400_000,
};

export const FACTS: SensorFacts = {
  configured_rate_Hz: 80,
  dialect: "tm1",
  amplifier: "hx711",
  gain: 128,
  counts_per_N: trueCountsPerN(RIG, 128),
  zero_counts: trueZeroCounts(RIG, 128),
  cell_capacity_N: 2000,
  working_force_N: 500,
};

export interface Board {
  /** Conversions a second at the mean temperature. */
  readonly rate_Hz: number;
  /** What the board adds to what the amplifier should give, counts; `at_s` since midnight, `index` of the reading. */
  readonly adds: (at_s: number, index: number, seed: number) => number;
  /** What the board makes of a reading on the way out. */
  readonly reads: (counts: number, index: number, seed: number) => number;
}

const asItIs = (counts: number): number => counts;

/** Nothing is wrong with it. */
export const GOOD: Board = { rate_Hz: 80.6, adds: () => 0, reads: asItIs };

/** Wired for 10 conversions a second, as the station says. */
export const SLOW: Board = { ...GOOD, rate_Hz: 10.3 };

/** As good as many are: about twice the noise of the datasheet. */
export const NOISY: Board = { ...GOOD, adds: (_at_s, index, seed) => 67 * normalAt(seedFor(seed, "more"), index) };

/**
 * An unshielded cable: a sine at the mains' frequency, which wanders by 0.05 Hz, and a weaker one at its double. It is weaker at night when
 * little is switched on: between 600 and 2200 counts, 0.3 to 1 N.
 */
export const UNSHIELDED: Board = {
  rate_Hz: 79.1,
  adds: (at_s, _index, seed) => {
    const quarter = Math.floor(at_s / 900);
    const frequency_Hz = 50 + 0.05 * normalAt(seedFor(seed, "mains"), quarter);
    const amplitude = 1400 - 800 * Math.cos((2 * Math.PI * at_s) / DAY_S);
    const phase = 2 * Math.PI * frequency_Hz * (at_s % 900);
    return amplitude * (Math.sin(phase) + 0.1 * Math.sin(2 * phase + 1));
  },
  reads: asItIs,
};

/** Clock and data timing at fault: one reading in seventy has all bits from some bit down set, the sign turned, or comes shifted by one. */
export const MISREADING: Board = {
  rate_Hz: 81.7,
  adds: () => 0,
  reads: (counts, index, seed) => {
    if (uniformAt(seedFor(seed, "misread"), index) >= 1 / 70) return counts;
    const how = uniformAt(seedFor(seed, "how"), index);
    if (how < 0.5) return 2 ** (8 + Math.floor(30 * how)) - 1;
    return how < 0.75 ? -counts : 2 * counts;
  },
};

/** A clock pulse too many: everything comes shifted up by two bits. */
export const SHIFTED: Board = { rate_Hz: 80, adds: () => 0, reads: (counts) => counts * 4 };

/**
 * A poor supply at an amplifier that is worn: the value jumps between two levels 0.8 N apart about every second and wanders besides
 * by about 0.1 N at a time, alike in a slow, a middle and a quick rhythm, as flicker does.
 */
export const POOR_SUPPLY: Board = {
  rate_Hz: 78.4,
  adds: (at_s, _index, seed) => {
    const between = (turn: number, name: string): number => {
      const from = normalAt(seedFor(seed, name), Math.floor(turn));
      return from + (turn % 1) * (normalAt(seedFor(seed, name), Math.floor(turn) + 1) - from);
    };
    const jumps = 1700 * (uniformAt(seedFor(seed, "level"), Math.floor(at_s * 1.3)) < 0.5 ? 0 : 1);
    const flicker = [0.25, 1, 4].reduce((sum, rhythm_Hz) => sum + 200 * between(at_s * rhythm_Hz, `${rhythm_Hz}`), 0);
    return jumps + flicker;
  },
  reads: asItIs,
};

/** The rate pin left as it came, and the same poor supply. */
export const SLOW_AND_POOR: Board = { ...POOR_SUPPLY, rate_Hz: 10.2 };

/** Ten seconds of `board` from `at_s` of the day on. */
export function sampleOf(board: Board, from_s: number, seed: number, duration_s = 10): Sample {
  // The oscillator runs a little slower when it is warm.
  const warm = Math.sin((2 * Math.PI * from_s) / DAY_S);
  const interval_s = 1 / (board.rate_Hz * (1 - 0.002 * warm));
  const rate = board.rate_Hz < 30 ? 10 : 80;
  const at_us: number[] = [];
  const counts: number[] = [];
  for (let index = 0; index * interval_s < duration_s; index += 1) {
    const at_s = from_s + index * interval_s;
    const state = { ...UNLOADED, conversions: index };
    const moment = { handle_N: 0, elapsed_s: interval_s, at_s, gain: 128, rate } as const;
    const whole = convert(RIG, state, moment, seed).counts + board.adds(at_s, index, seed);
    // A loop on the board notices a conversion within 20 us.
    at_us.push(Math.floor(1e6 * at_s + 20 * uniformAt(seedFor(seed, "stamp"), index)));
    counts.push(Math.round(board.reads(Math.round(whole), index, seed)));
  }
  return { at_us, counts, readings_lost: 0, lines_rejected: 0 };
}

const ADAPTER_US = 16_000;

/** The same readings as integers on a line without time, handed over by an adapter every 16 ms and timed by the reader of such lines. */
export function overBareLine(sample: Sample): Sample {
  // The reader needs a while to find the rate, so the sample is the last part of a longer one: here it is sent three times over.
  const duration_us = sample.at_us.at(-1)! - sample.at_us[0]! + Math.round(1e6 / 80.6);
  const at_us: number[] = [];
  let state: BareSource = openBare(BARE_CLOSED).state;
  for (const turn of [0, 1, 2]) {
    sample.counts.forEach((counts, index) => {
      const made_us = sample.at_us[index]! - sample.at_us[0]! + turn * duration_us;
      const step = readBare(state, `${counts}`, Math.ceil(made_us / ADAPTER_US) * ADAPTER_US);
      state = step.state;
      for (const event of step.events) if (turn === 2 && event.kind === "reading") at_us.push(event.at_us);
    });
  }
  return { ...sample, at_us };
}
