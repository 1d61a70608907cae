import { describe, expect, it } from "vitest";
import { RATE_HZ, RestBench } from "./rest-bench.ts";
import { AUTHORITY_N, STEP_N, sayTrial, TRIALS, type Trial } from "./zero-trials.ts";

/** The zero reading by reading: no step is larger or sooner than it may be, or taken beyond the band. */
function run({ load, lasts_s, tries, noise_N }: Trial, sign: 1 | -1) {
  const bench = new RestBench(noise_N).read(0, 120);
  const before_N = bench.shift_N;
  let last_N = before_N;
  let stepped_s = Number.NEGATIVE_INFINITY;
  let widest_N = 0;
  for (let index = 0; index < tries * lasts_s * RATE_HZ; index++) {
    bench.read(sign * load((index / RATE_HZ) % lasts_s), 1 / RATE_HZ);
    const { shift_N } = bench;
    if (shift_N === last_N) continue;
    if (Math.abs(shift_N - last_N) > STEP_N + 1e-9) throw new Error(`a step of ${shift_N - last_N} N`);
    if (bench.at_s - stepped_s < 10 - 1e-6) throw new Error(`a step after ${bench.at_s - stepped_s} s`);
    if (Math.abs(shift_N) > AUTHORITY_N + 1e-9) throw new Error(`${shift_N} N from the asked zero`);
    last_N = shift_N;
    stepped_s = bench.at_s;
    widest_N = Math.max(widest_N, sign * (shift_N - before_N));
  }
  return { widest_N, standing: bench.standing };
}

describe("the tracked zero", () => {
  it.each(TRIALS.map((trial) => [sayTrial(trial), trial] as const))("%s", (_said, trial) => {
    const { widest_N, standing } = run(trial, 1);
    expect(widest_N).toBeLessThanOrEqual(trial.bound_N + 0.1);
    expect(Math.abs(widest_N - trial.absorbed_N)).toBeLessThan(0.1);
    expect(standing).toEqual(trial.alarms);
  });

  it("takes no more of what pulls the other way", () => {
    for (const trial of TRIALS.slice(0, 3)) expect(run(trial, -1).widest_N).toBeLessThanOrEqual(trial.bound_N + 0.1);
  });
});
