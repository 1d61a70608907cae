/** The trail: integrals and windows against direct sums, across seals and breaks; old trails stay as they were. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  append,
  beginTrail,
  type Integrals,
  integralsAt,
  meanForce_N,
  recent,
  type Sample,
  slope_N_s,
  type Trail,
} from "../../../recorder/set-engine/trail.ts";
import { noiseOf } from "./run.ts";

interface Point {
  readonly at_us: number;
  readonly force_N: number;
  readonly broken: boolean;
}

const SEED = { seed: 20261124 };

/** Points a few ms to 60 ms apart, now and then at the same moment, now and then behind a break. */
const points = fc
  .array(
    fc.record({
      step_us: fc.oneof({ weight: 9, arbitrary: fc.integer({ min: 1, max: 60_000 }) }, fc.constant(0)),
      force_N: fc.integer({ min: -200, max: 3000 }),
      broken: fc.integer({ min: 0, max: 39 }).map((draw) => draw === 0),
    }),
    { minLength: 2, maxLength: 180 },
  )
  .map((steps): Point[] => {
    let at_us = 5_000_000;
    return steps.map(({ step_us, force_N, broken }) => {
      at_us += step_us;
      return { at_us, force_N, broken };
    });
  });

function trailOf(all: readonly Point[]): Trail {
  const [first, ...rest] = all as [Point, ...Point[]];
  let trail = beginTrail(first.at_us, first.force_N);
  for (const { at_us, force_N, broken } of rest) trail = append(trail, at_us, force_N, broken);
  return trail;
}

/** Sum of trapezoids over [from, to], N.s, straight between points, nothing over breaks; by hand, without the trail. */
function sum(all: readonly Point[], from_us: number, to_us: number): number {
  let impulse_N_s = 0;
  for (let index = 1; index < all.length; index++) {
    const a = all[index - 1] as Point;
    const b = all[index] as Point;
    const start_us = Math.max(a.at_us, from_us);
    const end_us = Math.min(b.at_us, to_us);
    if (b.broken || end_us <= start_us) continue;
    const at = (us: number) => a.force_N + ((b.force_N - a.force_N) * (us - a.at_us)) / (b.at_us - a.at_us);
    impulse_N_s += ((end_us - start_us) / 1e6) * ((at(start_us) + at(end_us)) / 2);
  }
  return impulse_N_s;
}

const wholeFrom = (all: readonly Point[]): number =>
  (all.findLast(({ broken }, index) => broken && index > 0) ?? (all[0] as Point)).at_us;

describe("integrals", () => {
  it("are the sums of the trapezoids, at any moment the trail holds", () => {
    fc.assert(
      fc.property(points, fc.double({ min: 0, max: 1, noNaN: true }), (all, share) => {
        const trail = trailOf(all);
        const { at_us: to_us } = trail.newest;
        const from_us = Math.max(wholeFrom(all), to_us - 2_300_000);
        const at_us = Math.round(from_us + share * (to_us - from_us));
        const then = integralsAt(trail, at_us) as Integrals;
        expect(trail.newest.impulse_N_s - then.impulse_N_s).toBeCloseTo(sum(all, at_us, to_us), 6);
      }),
      { ...SEED, numRuns: 300 },
    );
  });

  it("know nothing before a break, nor before what is kept", () => {
    const broken = trailOf([point(0, 100), point(10_000, 100), point(600_000, 100, true), point(610_000, 100)]);
    expect(integralsAt(broken, 599_999)).toBeNull();
    expect(integralsAt(broken, 600_000)).not.toBeNull();
    expect(broken.newest.impulse_N_s).toBeCloseTo(100 * 0.02, 9);
    expect(integralsAt(trailOf(steady(1000)), 100)).toBeNull();
    expect(integralsAt(trailOf(steady(10)), 1e9)).toBeNull();
  });
});

const point = (at_us: number, force_N: number, broken = false): Point => ({ at_us, force_N, broken });
const steady = (count: number): Point[] => Array.from({ length: count }, (_, index) => point(index * 12_500, 500));

describe("windows", () => {
  it("mean, lowest and highest of the last while agree with direct ones", () => {
    fc.assert(
      fc.property(points, fc.constantFrom(0.05, 0.2, 0.3, 1), (all, window_s) => {
        const trail = trailOf(all);
        const to_us = trail.newest.at_us;
        const from_us = to_us - window_s * 1e6;
        const inside = all.filter(({ at_us }) => at_us >= from_us).map(({ force_N }) => force_N);
        const seen = recent(trail, window_s);
        expect([seen.low_N, seen.high_N]).toEqual([Math.min(...inside), Math.max(...inside)]);
        if (from_us < wholeFrom(all)) {
          expect(seen.mean_N).toBeNull();
          expect(meanForce_N(trail, to_us, window_s)).toBeNull();
        } else {
          const mean_N = sum(all, from_us, to_us) / window_s;
          expect(seen.mean_N).toBeCloseTo(mean_N, 6);
          expect(meanForce_N(trail, to_us, window_s)).toBeCloseTo(mean_N, 6);
        }
      }),
      { ...SEED, numRuns: 400 },
    );
  });

  it("the time after the newest reading is not known", () => {
    expect(meanForce_N(trailOf(steady(100)), 5_000_000, 1)).toBeNull();
  });

  it("a window that begins exactly where the trail does is whole", () => {
    const trail = trailOf(steady(81));
    expect(recent(trail, 1).mean_N).toBeCloseTo(500, 9);
    expect(recent(trailOf(steady(80)), 1).mean_N).toBeNull();
  });
});

describe("slope", () => {
  it("is the least-squares one of densely sampled force", () => {
    const random = noiseOf(7);
    const all = Array.from({ length: 160 }, (_, index) =>
      point(3_000_000 + index * 12_500, 900 - index + 40 * random()),
    );
    const trail = trailOf(all);
    const from_us = 3_500_000;
    const to_us = trail.newest.at_us;
    const slope = slope_N_s(trail.origin_us, from_us, integralsAt(trail, from_us) as Integrals, to_us, trail.newest);
    let top = 0;
    let bottom = 0;
    const middle_us = (from_us + to_us) / 2;
    for (let us = from_us + 250; us < to_us; us += 500) {
      const before = all[Math.floor((us - 3_000_000) / 12_500)] as Point;
      const after = all[Math.floor((us - 3_000_000) / 12_500) + 1] as Point;
      const force_N = before.force_N + ((after.force_N - before.force_N) * (us - before.at_us)) / 12_500;
      top += ((us - middle_us) / 1e6) * force_N;
      bottom += ((us - middle_us) / 1e6) ** 2;
    }
    expect(slope).toBeCloseTo(top / bottom, 2);
  });

  it("of a straight line is its own, however late in the day, and of nothing is null", () => {
    const origin_us = 86_400_000_000;
    const all = Array.from({ length: 200 }, (_, index) => point(origin_us + index * 10_000, 800 - 0.3 * index));
    const trail = trailOf(all);
    const from = integralsAt(trail, origin_us + 500_000) as Integrals;
    expect(slope_N_s(trail.origin_us, origin_us + 500_000, from, trail.newest.at_us, trail.newest)).toBeCloseTo(-30, 6);
    expect(slope_N_s(trail.origin_us, trail.newest.at_us, trail.newest, trail.newest.at_us, trail.newest)).toBeNull();
  });
});

describe("a trail is a value", () => {
  it("appending leaves every earlier trail as it was", () => {
    fc.assert(
      fc.property(points, (all) => {
        const [first, ...rest] = all as [Point, ...Point[]];
        let trail = beginTrail(first.at_us, first.force_N);
        const kept: [Trail, string][] = [];
        const look = (of: Trail): string =>
          JSON.stringify([recent(of, 0.5), meanForce_N(of, of.newest.at_us, 1), of.loose]);
        for (const { at_us, force_N, broken } of rest) {
          kept.push([trail, look(trail)]);
          trail = append(trail, at_us, force_N, broken);
          // A side branch must not reach back either.
          append(trail, at_us + 1, -1e6);
        }
        for (const [old, seen] of kept) expect(look(old)).toBe(seen);
      }),
      { ...SEED, numRuns: 60 },
    );
  });

  it.each([
    [10, 100],
    [80, 300],
    [94, 320],
  ])("at %i readings a second it keeps hold of at most %i samples, hours on", (rate_Hz, most) => {
    let trail = beginTrail(0, 0);
    let highest = 0;
    for (let index = 1; index < 100_000; index++) {
      trail = append(trail, Math.round((index * 1e6) / rate_Hz), index % 700);
      if (index % 997 === 0) highest = Math.max(highest, reachable(trail).size);
    }
    expect(highest).toBeLessThanOrEqual(most);
    const oldest_us = Math.min(...[...reachable(trail)].map((sample) => sample.at_us));
    // All that windows may ask for is there, and little more: 2.6 s, and up to two blocks of 32.
    expect(trail.newest.at_us - oldest_us).toBeGreaterThan(2.6e6 - 1e6 / rate_Hz);
    expect(trail.newest.at_us - oldest_us).toBeLessThan(2.6e6 + (65 * 1e6) / rate_Hz);
  });
});

/** Every sample that can be reached from a trail, through blocks and links. */
function reachable(trail: Trail): Set<Sample> {
  const seen = new Set<Sample>();
  for (const start of [trail.newest, ...trail.sealed.flat()]) {
    for (let sample: Sample | null = start; sample !== null && !seen.has(sample); sample = sample.older)
      seen.add(sample);
  }
  return seen;
}
