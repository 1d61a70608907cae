/** A station at rest for the zero: readings in newtons, one device clock, every effect remembered. */
import type { Outcome } from "../../../calibration/outcome.ts";
import { forceOf } from "../../../calibration/scale.ts";
import {
  startZero,
  stepZero,
  type Zero,
  type ZeroInput,
  zeroInUse_counts,
  zeroShift_N,
} from "../../../calibration/zero/zero.ts";
import type { FoundZero, KeptZero, ZeroEffect, ZeroFacts } from "../../../calibration/zero/zero-shift.ts";
import { frozen } from "../frozen.ts";

/** d is 1 N, so the band is 2 N, a step 0.5 N, the authority 100 N, the largest asked shift 200 N, unconfirmed 25 N. */
export const FACTS: ZeroFacts = {
  calibration_id: "0192f0c1-2f5e-7a31-9c55-0242ac120002",
  capacity_N: 5000,
  zero_counts: 84_123,
  counts_per_N: 1000,
};

interface Flags {
  readonly idle?: boolean;
  readonly still?: boolean;
  readonly rate_Hz?: number;
}

export class ZeroBench {
  state: Zero;
  at_us = 5_000_000;
  readonly effects: ZeroEffect[] = [];
  readonly facts: ZeroFacts;

  constructor(facts: ZeroFacts = FACTS, saved: FoundZero | null = null) {
    this.facts = facts;
    this.state = startZero(saved, facts);
  }

  give(input: ZeroInput): this {
    const step = stepZero(frozen(this.state), frozen(input), frozen(this.facts));
    this.state = step.state;
    this.effects.push(...step.effects);
    return this;
  }

  /** Readings of a force as the calibrated zero would show it, whatever the zero in use makes of it. */
  read(force_N: number | ((seconds: number) => number), seconds: number, flags: Flags = {}): this {
    const { idle = true, still = true, rate_Hz = 10 } = flags;
    const begun_us = this.at_us;
    for (let i = 0; i < Math.round(seconds * rate_Hz); i += 1) {
      this.at_us += Math.round(1e6 / rate_Hz);
      const value_N = typeof force_N === "number" ? force_N : force_N((this.at_us - begun_us) / 1e6);
      const counts = this.facts.zero_counts + this.facts.counts_per_N * value_N;
      this.give({ kind: "reading", at_us: this.at_us, counts, idle, still });
    }
    return this;
  }

  ask(request: string, confirm = false, performed_by: string | null = null): this {
    return this.give({ kind: "zero", request, confirm, performed_by });
  }

  get shift_N(): number {
    return zeroShift_N(this.state, this.facts);
  }

  /** What the zero in use makes of a force on the calibrated one. */
  shown_N(force_N: number): number {
    const counts = this.facts.zero_counts + this.facts.counts_per_N * force_N;
    return forceOf(counts, zeroInUse_counts(this.state, this.facts), this.facts.counts_per_N);
  }

  answer(request: string): Outcome | undefined {
    const found = this.effects.find((effect) => effect.do === "answer" && effect.request === request);
    return found?.do === "answer" ? found.outcome : undefined;
  }

  error(request: string): string {
    const outcome = this.answer(request);
    return outcome?.ok === false ? `${outcome.error.code}: ${outcome.error.message}` : "none";
  }

  alarms(): string[] {
    return this.effects.flatMap((effect) =>
      effect.do === "alarm" ? [`${effect.code} ${effect.on ? "on" : "off"}`] : [],
    );
  }

  saves(): KeptZero[] {
    return this.effects.flatMap((effect) => (effect.do === "save-zero" ? [effect.zero] : []));
  }
}
