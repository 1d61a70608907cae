import { describe, expect, it } from "vitest";
import {
  convert,
  noiseCounts,
  type Rig,
  type RigState,
  trueCountsPerN,
  trueZeroCounts,
  UNLOADED,
} from "../../../recorder/simulated-gym/rig.ts";

const QUIET: Rig = {
  cell_capacity_N: 1000,
  sensitivity_mV_per_V: 2,
  zero_mV_per_V: 0,
  excitation_V: 5,
  zero_drift_per_degC: 0,
  temperature_swing_degC: 0,
  temperature_swing_s: 3600,
  creep: 0,
  creep_s: 300,
  friction_N: 0,
  spikes_per_hour: 0,
  spike_counts: 0,
};
const MOMENT = { elapsed_s: 1 / 80, at_s: 0, gain: 128, rate: 80 } as const;

/** Counts at each of these forces in turn, and the state left behind. */
function run(rig: Rig, forces_N: readonly number[], seed = 1, from: RigState = UNLOADED) {
  let state = from;
  const counts = forces_N.map((handle_N, index) => {
    const step = convert(rig, state, { ...MOMENT, handle_N, at_s: index / 80 }, seed);
    state = step.state;
    return step.counts;
  });
  return { counts, state };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const sd = (values: readonly number[]): number => {
  const middle = mean(values);
  return Math.sqrt(values.reduce((sum, value) => sum + (value - middle) ** 2, 0) / (values.length - 1));
};

describe("the amplifier, after the HX711 datasheet (Avia)", () => {
  it("has 2147483.648 counts per mV/V at gain 128 and half of it at 64: a 2 mV/V cell at capacity gives 51.2 %", () => {
    expect(trueCountsPerN(QUIET, 128) * 1000).toBeCloseTo(4_294_967.296, 3);
    expect(trueCountsPerN(QUIET, 64) * 1000).toBeCloseTo(2_147_483.648, 3);
    expect((trueCountsPerN(QUIET, 128) * 1000) / 2 ** 23).toBeCloseTo(0.512, 4);
    expect(trueZeroCounts({ ...QUIET, zero_mV_per_V: 1 }, 128)).toBeCloseTo(2_147_483.648, 3);
  });

  it("has 90 nV rms of noise at 80 a second and 50 nV at 10: 38.7 and 21.5 counts at 5 V", () => {
    expect(noiseCounts(QUIET, 128, 80)).toBeCloseTo(38.65, 1);
    expect(noiseCounts(QUIET, 128, 10)).toBeCloseTo(21.47, 1);
    const { counts } = run(QUIET, new Array(20_000).fill(0));
    // Five standard errors of a standard deviation, and a count's rounding.
    expect(Math.abs(sd(counts) - 38.65)).toBeLessThan((5 * 38.65) / Math.sqrt(2 * 20_000) + 0.01);
    expect(Math.abs(mean(counts))).toBeLessThan((5 * 38.65) / Math.sqrt(20_000));
  });

  it("saturates at 7FFFFFh and 800000h, above 3.906 mV/V", () => {
    const at = (handle_N: number): number => run(QUIET, [handle_N]).counts[0]!;
    expect(at(1952)).toBeLessThan(8_388_607);
    expect(at(1954)).toBe(8_388_607);
    expect(at(-1954)).toBe(-8_388_608);
    expect(at(1e6)).toBe(8_388_607);
  });

  it("gives whole counts", () => {
    for (const counts of run(QUIET, [1, 2.5, 99.99]).counts) expect(Number.isInteger(counts)).toBe(true);
  });
});

describe("the cell and the lever", () => {
  const SCALE = trueCountsPerN(QUIET, 128);
  const settled_N = (rig: Rig, forces_N: readonly number[]): number =>
    mean(run(rig, forces_N).counts.slice(-800)) / SCALE;

  it("follows the force", () => {
    expect(Math.abs(settled_N(QUIET, new Array(1600).fill(600)) - 600)).toBeLessThan(0.005);
  });

  it("reads backwards where the wires are reversed", () => {
    const reversed = { ...QUIET, sensitivity_mV_per_V: -2 };
    expect(Math.abs(settled_N(reversed, new Array(1600).fill(600)) + 600)).toBeLessThan(0.005);
  });

  it("creeps by an exponential: 63.2 % of its creep after one time constant", () => {
    const creeping = { ...QUIET, creep: 0.001, creep_s: 10 };
    const { state } = run(creeping, new Array(800).fill(1000));
    expect(state.crept_N).toBeCloseTo(1 - Math.exp(-1), 3);
    const back = run(creeping, new Array(8000).fill(0), 1, state);
    expect(back.state.crept_N).toBeLessThan(1e-4);
  });

  it("drifts with the room, back and forth, cell and amplifier each in their way", () => {
    const room = { ...QUIET, temperature_swing_degC: 50, temperature_swing_s: 100 };
    const around = (rig: Rig, at_s: number): number =>
      mean(run(rig, new Array(8000).fill(0)).counts.slice(at_s * 80 - 40, at_s * 80 + 40));
    // 12 nV x 50 degrees at 2.3283 nV a count, 80 readings of 38.7 counts; the bound is five standard errors.
    const amplifier_counts = (12 * 50) / 2.3283064;
    expect(Math.abs(around(room, 25) - amplifier_counts)).toBeLessThan(22);
    expect(Math.abs(around(room, 75) + amplifier_counts)).toBeLessThan(22);
    // 1e-4 x 1000 N x 50 degrees = 5 N.
    const both = { ...room, zero_drift_per_degC: 1e-4 };
    expect(Math.abs((around(both, 25) - amplifier_counts) / SCALE - 5)).toBeLessThan(0.02);
  });

  it("holds back what the bearing takes, on the way up and on the way down", () => {
    const rubbing = { ...QUIET, friction_N: 5 };
    const up = Array.from({ length: 101 }, (_, index) => index * 6);
    const down = [...up, ...up.toReversed()];
    expect(run(rubbing, up).state.cell_N).toBe(595);
    expect(run(rubbing, [...down, 300]).state.cell_N).toBe(295);
    expect(run(rubbing, [...up, 300]).state.cell_N).toBe(305);
  });

  it("spikes now and then, one conversion at a time, either way", () => {
    const spiking = { ...QUIET, spikes_per_hour: 3600, spike_counts: 100_000 };
    const { counts } = run(spiking, new Array(80_000).fill(0));
    const spikes = counts.filter((value) => Math.abs(value) > 50_000);
    // A thousand seconds at one a second, give or take five standard deviations of a Poisson count.
    expect(Math.abs(spikes.length - 1000)).toBeLessThan(5 * Math.sqrt(1000));
    expect(Math.abs(spikes.filter((value) => value > 0).length - spikes.length / 2)).toBeLessThan(80);
  });
});
