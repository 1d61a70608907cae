/** Drives the engine with a force given as a function of time, for tests. Times in s, forces in N. */
import type { ResolvedOptions } from "../../../protocol/messages/set.ts";
import type { MuscleAction } from "../../../protocol/vocabulary.ts";
import type { EffortReport, EngineEffect, SetResult } from "../../../recorder/set-engine/effects.ts";
import { arm, step } from "../../../recorder/set-engine/engine.ts";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import type { SetSetup } from "../../../recorder/set-engine/setup.ts";
import type { EngineState } from "../../../recorder/set-engine/state.ts";

export type SetupChanges = Partial<Omit<SetSetup, "options">> & { readonly options?: Partial<ResolvedOptions> };

const LIMITS = {
  hold: { rest_limit_s: null, time_limit_s: 240 },
  continuous: { rest_limit_s: 8, time_limit_s: 300 },
  "eccentric-only": { rest_limit_s: 45, time_limit_s: 900 },
  "rest-pause": { rest_limit_s: 40, time_limit_s: 900 },
} as const;

/** A set at 40 % on a 2 kN driven station, unless said otherwise. */
export function setupOf(changes: SetupChanges): SetSetup {
  const style = changes.style ?? "hold";
  return {
    style,
    intent: "maximal",
    resistance: "driven",
    fatigue_threshold: 0.4,
    peaks_per_repetition: 1,
    return_stroke: "unloaded",
    subtract_resting: false,
    cell_capacity_N: 2000,
    noise_N: 0.5,
    reading_rate_Hz: 80,
    today_best_force_N: null,
    comparable_best_force_N: null,
    ...changes,
    options: {
      grace_s: 1,
      ...LIMITS[style],
      effort_limit: null,
      below_floor_to_stop: 1,
      onset_force_N: 20,
      efforts_per_cluster: 2,
      tested_best_force_N: null,
      best_from: "set",
      ceiling_force_N: null,
      ...changes.options,
    },
  };
}

/** Seeded noise, uniform in -1..1 (mulberry32), so that a failing trace is the same every time. */
export function noiseOf(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2147483648 - 1;
  };
}

export interface Trace {
  readonly force: (at_s: number) => number;
  readonly action?: (at_s: number) => MuscleAction | null;
  readonly lasts_s: number;
  readonly rate_Hz?: number;
  /** Standard deviation-like half width of added noise, N. */
  readonly noise_N?: number;
  /** Share of a period by which readings come early or late. */
  readonly jitter?: number;
  /** Readings inside these stretches are lost, s. */
  readonly lost?: readonly (readonly [number, number])[];
  readonly seed?: number;
}

export function readingsOf(trace: Trace): EngineInput[] {
  const rate_Hz = trace.rate_Hz ?? 80;
  const random = noiseOf(trace.seed ?? 1);
  const readings: EngineInput[] = [];
  for (let index = 0; index / rate_Hz < trace.lasts_s; index++) {
    const at_s = (index + (trace.jitter ?? 0) * random()) / rate_Hz;
    const noise_N = (trace.noise_N ?? 0) * random();
    if (trace.lost?.some(([from, to]) => at_s >= from && at_s < to)) continue;
    const at_us = Math.max(0, Math.round(at_s * 1e6));
    readings.push({
      kind: "reading",
      at_us,
      force_N: trace.force(at_us / 1e6) + noise_N,
      muscle_action: trace.action?.(at_us / 1e6) ?? null,
    });
  }
  return readings;
}

export interface Told {
  readonly at_s: number;
  readonly effect: EngineEffect;
}

export interface Run {
  readonly state: EngineState;
  readonly told: readonly Told[];
  readonly result: SetResult | null;
}

/** Feeds inputs in order of time into a set armed at 0. */
export function run(setup: SetSetup, inputs: readonly EngineInput[]): Run {
  let state: EngineState = arm(setup, 0);
  const told: Told[] = [];
  for (const input of inputs) {
    const next = step(state, input);
    state = next.state;
    for (const effect of next.effects) told.push({ at_s: input.at_us / 1e6, effect });
  }
  const over = told.find(({ effect }) => effect.do === "over")?.effect;
  return { state, told, result: over?.do === "over" ? over.result : null };
}

export const runTrace = (changes: SetupChanges, trace: Trace): Run =>
  run(setupOf({ reading_rate_Hz: trace.rate_Hz ?? 80, ...changes }), readingsOf(trace));

/** Straight lines between corners [s, N]; before the first and after the last, their force. */
export function corners(...points: readonly (readonly [number, number])[]): (at_s: number) => number {
  return (at_s) => {
    let before = points[0] as readonly [number, number];
    for (const point of points) {
      if (point[0] > at_s) {
        if (at_s <= before[0]) return before[1];
        const share = (at_s - before[0]) / (point[0] - before[0]);
        return before[1] + share * (point[1] - before[1]);
      }
      before = point;
    }
    return before[1];
  };
}

/** Half-sine efforts: [start s, duration s, peak N]; the highest of overlapping ones, never below `base_N`. */
export function halfSines(
  efforts: readonly (readonly [number, number, number])[],
  base_N = 0,
): (at_s: number) => number {
  return (at_s) => {
    let force_N = base_N;
    for (const [start_s, duration_s, peak_N] of efforts) {
      const into = (at_s - start_s) / duration_s;
      if (into > 0 && into < 1) force_N = Math.max(force_N, peak_N * Math.sin(Math.PI * into));
    }
    return force_N;
  };
}

/** Efforts with a level top: [start s, duration s, peak N], up and down within 0.1 s each. */
export function plateaus(
  efforts: readonly (readonly [number, number, number])[],
  base_N = 0,
): (at_s: number) => number {
  return (at_s) => {
    let force_N = base_N;
    for (const [start_s, duration_s, peak_N] of efforts) {
      const edge = Math.min(at_s - start_s, start_s + duration_s - at_s) / 0.1;
      if (edge > 0) force_N = Math.max(force_N, base_N + (peak_N - base_N) * Math.min(1, edge));
    }
    return force_N;
  };
}

/** One reading. */
export const reading = (at_us: number, force_N: number, muscle_action: MuscleAction | null = null): EngineInput => ({
  kind: "reading",
  at_us,
  force_N,
  muscle_action,
});

/** Readings and whatever else happens, in order of time; at the same moment the reading comes first. */
export function together(readings: readonly EngineInput[], ...others: readonly EngineInput[]): EngineInput[] {
  return [...readings, ...others].sort((a, b) => a.at_us - b.at_us);
}

/** The names of what was told, without the live signals that a test is not about. */
export const toldOf = (ran: Run): string[] =>
  ran.told.map(({ effect }) =>
    effect.do === "phase" ? effect.phase : effect.do === "over" ? effect.result.stop_reason : effect.do,
  );

/** The result of a set that must have ended. */
export function resultOf(ran: Run): SetResult {
  if (ran.result === null) throw new Error(`the set is not over: ${ran.state.is}, told ${toldOf(ran).join(", ")}`);
  return ran.result;
}

/** At a hundred readings a second, so that times come out even. */
export const at100 = (changes: SetupChanges, trace: Omit<Trace, "rate_Hz">): Run =>
  runTrace(changes, { ...trace, rate_Hz: 100 });

export const effortsOf = (ran: Run): EffortReport[] =>
  ran.told.flatMap(({ effect }) => (effect.do === "effort" ? [effect.effort] : []));

/** Efforts every 3 s from 1 s on, with these peaks. */
export const every3s = (peaks: readonly number[], lasts_s = 2) =>
  plateaus(peaks.map((peak_N, index) => [1 + 3 * index, lasts_s, peak_N] as const));
