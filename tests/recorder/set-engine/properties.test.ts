/** What holds for every set: generated traces, seeded, so that a failing one is the same every time. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { median3 } from "../../../calibration/median.ts";
import type { SetResult } from "../../../recorder/set-engine/effects.ts";
import { arm, step } from "../../../recorder/set-engine/engine.ts";
import type { EngineInput, ReadingInput } from "../../../recorder/set-engine/inputs.ts";
import type { EngineState } from "../../../recorder/set-engine/state.ts";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import { corners, readingsOf, run, type SetupChanges, setupOf, type Trace } from "./run.ts";

const SEED = { seed: 20261124 };
const STYLES = ["hold", "continuous", "eccentric-only", "rest-pause"] as const;

/** Forces along random corners, 0 to 1500 N, for some 20 s. */
const wandering = fc
  .array(fc.tuple(fc.double({ min: 0.05, max: 2.5, noNaN: true }), fc.integer({ min: 0, max: 1500 })), {
    minLength: 4,
    maxLength: 16,
  })
  .map((legs): Trace["force"] => {
    const points: [number, number][] = [[0.9, 0]];
    let at_s = 1;
    for (const [lasts_s, force_N] of [...legs, [1, 0] as const]) {
      at_s += lasts_s;
      points.push([at_s, force_N]);
    }
    return corners(...points);
  });
const style = fc.constantFrom(...STYLES);
const kinds = fc.record({
  tested: fc.boolean(),
  halves: fc.boolean(),
  toStop: fc.integer({ min: 1, max: 3 }),
  /** Length of one muscle action, s; under half a second: the board does not know it. */
  actions: fc.double({ min: 0, max: 2, noNaN: true }),
  /** Length of a gap, s. */
  lost: fc.double({ min: 0, max: 0.9, noNaN: true }),
});

/** A set as people make them: pushed near some strength that fades, with noise. */
const fading = fc.record({
  strength_N: fc.integer({ min: 300, max: 1600 }),
  loss_per_s: fc.double({ min: 0.005, max: 0.03, noNaN: true }),
  seed: fc.nat(1_000_000),
});
type Fading = { readonly strength_N: number; readonly loss_per_s: number; readonly seed: number };

const holdBy = ({ strength_N, loss_per_s }: Fading): Trace["force"] => {
  const force = corners([1, 0], [1.3, strength_N]);
  return (at_s) => (at_s < 2 ? force(at_s) : strength_N * Math.exp(-loss_per_s * (at_s - 2)));
};
const SPACING_S = 2.7;
const effortsBy = ({ strength_N, loss_per_s }: Fading): Trace["force"] => {
  return (at_s) => {
    const into_s = (at_s - 1) % SPACING_S;
    if (at_s < 1 || into_s > 2.2) return 0;
    return strength_N * Math.exp(-loss_per_s * (at_s - 1 - into_s)) * Math.sin((Math.PI * into_s) / 2.2);
  };
};

const despiked = (readings: readonly EngineInput[]): EngineInput[] => {
  const forces = readings.map((input) => (input as ReadingInput).force_N);
  return readings.map((input, index) => {
    const [before, last, now] = [forces[index - 2], forces[index - 1], forces[index]] as [number, number, number];
    return index < 2 ? input : { ...(input as ReadingInput), force_N: median3(before, last, now) };
  });
};

describe("one impulse anywhere, behind the median of three", () => {
  it.each(["hold", "continuous"] as const)(
    "moves best by no more than neighbouring readings differ, and neither reason nor count: %s",
    (which) => {
      fc.assert(
        fc.property(
          fading,
          fc.double({ min: 0, max: 1, noNaN: true }),
          fc.constantFrom(-1e6, -3000, -500, 500, 3000, 1e6),
          (trainee, where, impulse_N) => {
            const force = which === "hold" ? holdBy(trainee) : effortsBy(trainee);
            const readings = readingsOf({ force, lasts_s: 120, noise_N: 0.5, seed: trainee.seed });
            const clean = run(setupOf({ style: which }), despiked(readings)).result as SetResult;
            const until = readings.findLastIndex((input) => input.at_us <= clean.decided_us);
            const at = Math.floor(where * until);
            const hit = readings.map((input, index) =>
              index === at
                ? { ...(input as ReadingInput), force_N: (input as ReadingInput).force_N + impulse_N }
                : input,
            );
            const spiked = run(setupOf({ style: which }), despiked(hit)).result as SetResult;
            const forces = readings.slice(0, until + 1).map((input) => (input as ReadingInput).force_N);
            const largestStep_N = Math.max(
              ...forces.slice(1).map((now, index) => Math.abs(now - (forces[index] as number))),
            );
            expect(spiked.stop_reason).toBe(clean.stop_reason);
            expect(spiked.efforts.length).toBe(clean.efforts.length);
            expect(Math.abs((spiked.best_N as number) - (clean.best_N as number))).toBeLessThanOrEqual(largestStep_N);
          },
        ),
        { ...SEED, numRuns: 40 },
      );
    },
  );
});

describe("one force curve at other rates", () => {
  const NAMES = ["best_N", "final_N", "impulse_N_s", "duration_s"] as const;
  /**
   * A peak that lies as near to the floor as rates may differ falls on either side of it. The threshold of efforts is
   * therefore put halfway between two of their peaks, each 4.5 % or more apart from the next.
   */
  const compare = (which: "hold" | "continuous", rates_Hz: readonly number[], within: number) =>
    fc.assert(
      fc.property(
        fading,
        fc.constantFrom(...rates_Hz),
        fc.double({ min: 0.017, max: 0.03, noNaN: true }),
        fc.integer({ min: 4, max: 12 }),
        (drawn, rate_Hz, loss_per_s, efforts) => {
          const trainee = { ...drawn, loss_per_s };
          const force = which === "hold" ? holdBy(trainee) : effortsBy(trainee);
          const fatigue_threshold = which === "hold" ? 0.4 : 1 - Math.exp(-loss_per_s * SPACING_S * (efforts - 0.5));
          const at = (hz: number, jitter: number) =>
            run(
              setupOf({ style: which, fatigue_threshold, reading_rate_Hz: hz }),
              readingsOf({ force, lasts_s: 60, rate_Hz: hz, jitter, noise_N: 0.2, seed: trainee.seed }),
            ).result as SetResult;
          const reference = at(320, 0);
          const seen = at(rate_Hz, 0.2);
          expect(reference.efforts.length).toBe(which === "hold" ? 1 : efforts + 1);
          expect(seen.stop_reason).toBe(reference.stop_reason);
          expect(seen.efforts.length).toBe(reference.efforts.length);
          for (const name of NAMES) {
            expect(Math.abs((seen[name] as number) / (reference[name] as number) - 1), name).toBeLessThan(within);
          }
          const loss = (result: SetResult) => 1 - (result.final_N as number) / (result.best_N as number);
          expect(Math.abs(loss(seen) - loss(reference)), "loss").toBeLessThan(within);
        },
      ),
      { ...SEED, numRuns: 50 },
    );

  const FAST_HZ = [40, 57, 80, 94];
  it("40 to 94 readings a second with 20 % jitter agree within 1 %: hold", () => compare("hold", FAST_HZ, 0.01));
  it("40 to 94 readings a second with 20 % jitter agree within 1 %: efforts", () =>
    compare("continuous", FAST_HZ, 0.01));
  it("10 readings a second agree within 2 %: hold", () => compare("hold", [10], 0.02));
  it("10 readings a second agree within 2 %: efforts of 2 s and more", () => compare("continuous", [10], 0.02));
});

describe("on any trace", () => {
  it("floor and best never fall, numbers are finite, efforts follow one another", () => {
    let over = 0;
    fc.assert(
      fc.property(wandering, style, kinds, (force, which, { tested, halves, toStop, actions, lost }) => {
        const setup = setupOf({
          style: which,
          peaks_per_repetition: halves ? 2 : 1,
          options: { below_floor_to_stop: toStop, ...(tested ? { tested_best_force_N: 700 } : {}) },
          reading_rate_Hz: 40,
        });
        const action = (at_s: number) => (at_s % (2 * actions) < actions ? "concentric" : "eccentric");
        const readings = readingsOf({
          force,
          lasts_s: 40,
          rate_Hz: 40,
          noise_N: 1,
          lost: [[5, 5 + lost]],
          ...(actions > 0.5 ? { action } : {}),
        });
        let state: EngineState = arm(setup, 0);
        let best_N = 0;
        let floor_N = 0;
        const told: unknown[] = [];
        for (const input of readings) {
          const was: EngineState = state;
          const next = step(was, input);
          state = next.state;
          for (const effect of next.effects) if (effect.do === "effort") told.push(effect.effort);
          // Armed again, nothing of the false start is left.
          if (state.is !== was.is && state.is !== "over") [best_N, floor_N] = [0, 0];
          const view = viewOf(state);
          if ((view.best_N ?? best_N) < best_N || (view.floor_N ?? floor_N) < floor_N) {
            throw new Error(`best or floor fell at ${input.at_us} us`);
          }
          if (state.is !== "over") [best_N, floor_N] = [view.best_N ?? best_N, view.floor_N ?? floor_N];
        }
        if (state.is !== "over") return;
        over += 1;
        checkResult(state.result);
        // Every finished effort was told as it stands in the record; a hold is its only one.
        if (which !== "hold") expect(told).toEqual(state.result.efforts);
      }),
      { ...SEED, numRuns: 200 },
    );
    expect(over).toBeGreaterThan(80);
  });

  it("cutting it at any point and going on from the kept state changes nothing", () => {
    fc.assert(
      fc.property(wandering, style, fc.array(fc.nat(2000), { maxLength: 5 }), (force, which, cuts) => {
        const readings = readingsOf({ force, lasts_s: 30, rate_Hz: 40 });
        const setup = setupOf({ style: which, reading_rate_Hz: 40 });
        const whole = run(setup, readings);
        let state: EngineState = arm(setup, 0);
        const told: unknown[] = [];
        const ends = [...cuts.map((cut) => cut % readings.length).sort((a, b) => a - b), readings.length];
        let from = 0;
        for (const to of ends) {
          // What was kept is all there is: nothing hides outside the state.
          state = structuredClone(state);
          for (const input of readings.slice(from, to)) {
            const next = step(state, input);
            state = next.state;
            told.push(...next.effects);
          }
          from = to;
        }
        expect(told).toEqual(whole.told.map(({ effect }) => effect));
        expect(state).toEqual(whole.state);
      }),
      { ...SEED, numRuns: 40 },
    );
  });

  it("another origin of time changes nothing but the times", () => {
    fc.assert(
      fc.property(wandering, style, fc.integer({ min: 1, max: 4e12 }), (force, which, shift_us) => {
        const setup = setupOf({ style: which });
        const readings = readingsOf({ force, lasts_s: 30 });
        const told = (inputs: readonly EngineInput[], armed_us: number) => {
          let state: EngineState = arm(setup, armed_us);
          return inputs.flatMap((input) => {
            const next = step(state, input);
            state = next.state;
            return next.effects.map((effect) => [input.at_us - armed_us, moved(effect, -armed_us)]);
          });
        };
        const later = readings.map((input) => ({ ...input, at_us: input.at_us + shift_us }));
        expect(told(later, shift_us)).toEqual(told(readings, 0));
      }),
      { ...SEED, numRuns: 40 },
    );
  });

  it("a force, with its levels and noise, scaled by a factor gives results scaled by it", () => {
    fc.assert(
      fc.property(wandering, style, fc.constantFrom(0.125, 0.5, 4, 16), (force, which, factor) => {
        const changes = (scale: number): SetupChanges => ({
          style: which,
          cell_capacity_N: 2000 * scale,
          noise_N: 0.5 * scale,
          comparable_best_force_N: 600 * scale,
          options: { onset_force_N: 20 * scale, tested_best_force_N: 400 * scale, ceiling_force_N: 900 * scale },
        });
        const at = (scale: number) =>
          run(setupOf(changes(scale)), readingsOf({ force: (at_s) => force(at_s) * scale, lasts_s: 40 }));
        const plain = at(1);
        const scaled = at(factor);
        // Powers of two scale floating-point numbers exactly, so the very same is expected.
        expect(scaled.told.map(({ at_s, effect }) => [at_s, unscaled(effect, factor)])).toEqual(
          plain.told.map(({ at_s, effect }) => [at_s, unscaled(effect, 1)]),
        );
      }),
      { ...SEED, numRuns: 50 },
    );
  });
});

/** Moves every moment in a value. */
function moved(value: unknown, by_us: number): unknown {
  return mapped(value, (name, number) => (name.endsWith("_us") ? number + by_us : number));
}

function unscaled(value: unknown, factor: number): unknown {
  return mapped(value, (name, number) => (/_N(_s)?$/.test(name) ? number / factor : number));
}

function mapped(value: unknown, change: (name: string, number: number) => number, name = ""): unknown {
  if (typeof value === "number") return change(name, value);
  if (Array.isArray(value)) return value.map((part) => mapped(part, change, name));
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, mapped(part, change, key)]));
}

function checkResult(result: SetResult): void {
  mapped(result, (name, number) => {
    expect(Number.isFinite(number), name).toBe(true);
    return number;
  });
  const counted = result.efforts.filter((effort) => effort.counted);
  expect(counted.length).toBeGreaterThan(0);
  expect(result.efforts.map((effort) => effort.effort_number)).toEqual(result.efforts.map((_, index) => index + 1));
  for (const [index, effort] of result.efforts.entries()) {
    expect(effort.end_us).toBeGreaterThanOrEqual(effort.start_us);
    if (index > 0) expect(effort.start_us).toBeGreaterThanOrEqual(result.efforts[index - 1]?.end_us ?? 0);
  }
  expect(result.time_under_tension_s).toBeLessThanOrEqual(result.duration_s + 1e-6);
  expect(result.impulse_N_s).toBeCloseTo(
    counted.reduce((sum, effort) => sum + effort.impulse_N_s, 0),
    6,
  );
  expect(result.onset_us).toBe(counted[0]?.start_us);
  expect(result.decided_us).toBeGreaterThanOrEqual(result.onset_us + result.duration_s * 1e6 - 1);
}
