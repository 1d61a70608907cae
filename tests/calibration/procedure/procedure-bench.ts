/** One calibration on a bench: readings on request, at a rate, with noise, from one device clock. Every state is frozen. */
import { expect } from "vitest";
import type { Outcome } from "../../../calibration/outcome.ts";
import { NO_PROCEDURE, stepProcedure } from "../../../calibration/procedure/procedure.ts";
import type {
  InForce,
  Procedure,
  ProcedureEffect,
  ProcedureFacts,
  ProcedureInput,
} from "../../../calibration/procedure/procedure-state.ts";
import { frozen } from "../frozen.ts";
import { seededNoise } from "../seeded-noise.ts";

export const COUNTS_PER_N = 859;
export const ZERO_COUNTS = 84_123;
/** 100 kg at 52 degrees: five times the published 196.2200 N. */
export const LOAD_N = 981.1;

export const FACTS: ProcedureFacts = {
  station: "leg-press",
  working_force_N: 2500,
  cell_capacity_N: 5000,
  force_limit_N: 4000,
  latitude_deg: 52,
  altitude_m: 0,
  board: "press-left",
  amplifier: "hx711",
  gain: 128,
  cell: "4711",
  in_force: null,
  powered_up_at_us: null,
};
/** A little off the true scale: 1 %. */
export const IN_FORCE: InForce = {
  calibration_id: "0192f0c1-2f5e-7a31-9c55-0242ac12aaaa",
  counts_per_N: COUNTS_PER_N / 1.01,
  zero_counts: ZERO_COUNTS,
  zero_shift_N: 1.5,
};

export const BEGIN = {
  kind: "begin",
  request: "r-begin",
  by: "technician-1",
  now: "2026-11-24T09:00:00.000Z",
  at_us: 0,
  facts: FACTS,
} as const satisfies ProcedureInput;
export const ACCEPT: Extract<ProcedureInput, { kind: "accept" }> = {
  kind: "accept",
  request: "r-accept",
  note: "two plates",
  due: "2027-11-24T00:00:00.000Z",
  calibration_id: "0192f0c1-2f5e-7a31-9c55-0242ac120002",
  at: "2026-11-24T09:05:00.000Z",
  clock_synced: true,
};
export const ZERO: ProcedureInput = { kind: "zero", request: "r-zero" };

export const load = (mass_kg: number, request = "r-load"): ProcedureInput => ({
  kind: "load",
  request,
  mass_kg,
  relative_tolerance: 0.002,
});
export const check = (mass_kg: number, request = "r-check"): ProcedureInput => ({
  kind: "check",
  request,
  mass_kg,
  relative_tolerance: 0.002,
  loading: "increasing",
});

export class Bench {
  state: Procedure = NO_PROCEDURE;
  readonly effects: ProcedureEffect[] = [];
  at_us = 1_000_000;
  private readonly noise = seededNoise(5);

  give(input: ProcedureInput): this {
    const step = stepProcedure(frozen(this.state), frozen(input));
    this.state = step.state;
    this.effects.push(...step.effects);
    return this;
  }

  read(
    force_N: number | ((s: number) => number),
    seconds: number,
    counts_per_N = COUNTS_PER_N,
    rate_Hz = 80,
    noise_counts = 39,
  ): this {
    for (let i = 0; i < seconds * rate_Hz; i += 1) {
      this.at_us += Math.round(1e6 / rate_Hz);
      const now_N = typeof force_N === "number" ? force_N : force_N(i / rate_Hz);
      const counts = Math.round(ZERO_COUNTS + counts_per_N * now_N + this.noise(noise_counts));
      this.give({ kind: "reading", at_us: this.at_us, counts });
    }
    return this;
  }

  /** A request, and the readings it wants. */
  take(input: ProcedureInput, force_N: number | ((s: number) => number)): this {
    return this.give(input).read(force_N, 24);
  }

  answer(request: string): Outcome | undefined {
    const answers = this.effects.filter((effect) => effect.do === "answer" && effect.request === request);
    expect(answers.length).toBeLessThanOrEqual(1);
    const [first] = answers;
    return first?.do === "answer" ? first.outcome : undefined;
  }

  error(request: string): string {
    const outcome = this.answer(request);
    return outcome?.ok === false ? `${outcome.error.code}: ${outcome.error.message}` : "none";
  }
}
