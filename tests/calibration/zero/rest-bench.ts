/**
 * A sensor as the zero sees it, without a recorder: raw readings through the median of three, stillness and zero, with the
 * noise of an amplifier. Forces in N as the calibrated zero would show them; 10 readings a second.
 */
import { median3 } from "../../../calibration/median.ts";
import { forceOf } from "../../../calibration/scale.ts";
import { STILLNESS_UNKNOWN, type Stillness, stepStillness } from "../../../calibration/stillness.ts";
import { startZero, stepZero, type Zero, zeroInUse_counts, zeroShift_N } from "../../../calibration/zero/zero.ts";
import { stepZeroAfter, watchZeroAfter, type ZeroAfter } from "../../../calibration/zero/zero-after.ts";
import type { ZeroFacts, ZeroReading } from "../../../calibration/zero/zero-shift.ts";
import { seededNoise } from "../seeded-noise.ts";
import { FACTS } from "./zero-bench.ts";

export const RATE_HZ = 10;
const PERIOD_US = 1e6 / RATE_HZ;

export class RestBench {
  readonly facts: ZeroFacts;
  at_us = 0;
  zero: Zero;
  stillness: Stillness = STILLNESS_UNKNOWN;
  after: ZeroAfter | null = null;
  /** What became known after the last `end`; null: nothing yet. */
  found_N: number | null = null;
  found_at_us = Number.NaN;
  /** Alarms raised and cleared, with the second they came. */
  readonly alarms: { readonly code: string; readonly on: boolean; readonly at_s: number; readonly detail: string }[] =
    [];
  readonly #noise: (sd: number) => number;
  readonly #noise_N: number;
  #before2 = Number.NaN;
  #before1 = Number.NaN;

  constructor(noise_N = 0.1, facts: ZeroFacts = FACTS, seed = 7) {
    this.facts = facts;
    this.zero = startZero(null, facts);
    this.#noise_N = noise_N;
    this.#noise = seededNoise(seed);
  }

  get at_s(): number {
    return this.at_us / 1e6;
  }

  get shift_N(): number {
    return zeroShift_N(this.zero, this.facts);
  }

  get standing(): readonly string[] {
    const on = new Map(this.alarms.map(({ code, on: raised }) => [code, raised]));
    return [...on].filter(([, raised]) => raised).map(([code]) => code);
  }

  read(load_N: number | ((s: number) => number), seconds: number, idle = true): this {
    for (let index = 1; index <= Math.round(seconds * RATE_HZ); index++) {
      const clean_N = typeof load_N === "number" ? load_N : load_N(index / RATE_HZ);
      this.counts(
        Math.round(this.facts.zero_counts + this.facts.counts_per_N * (clean_N + this.#noise(this.#noise_N))),
        idle,
      );
    }
    return this;
  }

  /** One raw reading, a period after the one before. */
  counts(raw: number, idle: boolean): void {
    this.at_us += PERIOD_US;
    const { at_us, facts } = this;
    const counts = median3(this.#before2, this.#before1, raw);
    this.#before2 = this.#before1;
    this.#before1 = raw;
    if (Number.isNaN(counts)) return;
    const force_N = forceOf(counts, zeroInUse_counts(this.zero, facts), facts.counts_per_N);
    if (idle) this.stillness = stepStillness(this.stillness, at_us, force_N, facts.capacity_N);
    const reading: ZeroReading = { kind: "reading", at_us, counts, idle, still: idle && this.stillness.judged.still };
    const step = stepZero(this.zero, reading, facts);
    this.zero = step.state;
    for (const effect of step.effects) {
      if (effect.do === "alarm") this.alarms.push({ ...effect, at_s: this.at_s });
    }
    if (this.after === null) return;
    const { watch, found } = stepZeroAfter(this.after, reading);
    this.after = watch;
    if (found === null) return;
    this.found_N = found.zero_shift_N;
    this.found_at_us = at_us;
  }

  /** A set is over that was measured with the zero in use. */
  end(): this {
    const { counts_per_N, capacity_N } = this.facts;
    const measured = { zero_counts: zeroInUse_counts(this.zero, this.facts), counts_per_N, capacity_N };
    this.after = watchZeroAfter("set-1", this.at_us, measured);
    this.found_N = null;
    return this;
  }
}
