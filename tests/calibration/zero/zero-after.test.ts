import { describe, expect, it } from "vitest";
import { stepZeroAfter, watchZeroAfter } from "../../../calibration/zero/zero-after.ts";
import { frozen } from "../frozen.ts";
import { RestBench } from "./rest-bench.ts";
import { FACTS } from "./zero-bench.ts";

/** After a set of half a minute; d is 1 N. */
const afterSet = (): RestBench => new RestBench().read(0, 5).read(2000, 30, false).end();

describe("where the unloaded sensor stands after a set", () => {
  it("is the mean of ten still seconds, ten seconds after the end at the soonest", () => {
    const bench = afterSet().read(3, 19.9);
    expect(bench.found_N).toBe(null);
    bench.read(3, 0.3);
    expect(bench.found_N).toBeCloseTo(3, 1);
    expect(bench.after).toBe(null);
  });

  it("is signed: positive where the unloaded sensor shows a force, with reversed wires as well", () => {
    expect(afterSet().read(-4, 30).found_N).toBeCloseTo(-4, 1);
    const reversed = { ...FACTS, counts_per_N: -FACTS.counts_per_N };
    const bench = new RestBench(0.1, reversed).read(0, 5).read(2000, 30, false).end();
    expect(bench.read(-4, 30).found_N).toBeCloseTo(-4, 1);
  });

  it("waits while somebody is on it, moving or at rest, and takes the first rest within 10 d", () => {
    const bench = afterSet();
    bench.read((s) => 30 + 20 * Math.sin(3 * s), 60).read(40, 120);
    expect(bench.found_N).toBe(null);
    expect(bench.read(1, 15).found_N).toBeCloseTo(1, 1);
  });

  it("within 10 d and not a trifle beyond", () => {
    expect(afterSet().read(9.9, 30).found_N).toBeCloseTo(9.9, 1);
    expect(afterSet().read(10.1, 580).found_N).toBe(null);
  });

  it("begins its ten seconds anew after a jolt", () => {
    const bench = afterSet().read(2, 16).read(40, 0.5).read(2, 10);
    expect(bench.found_N).toBe(null);
    expect(bench.read(2, 6).found_N).toBeCloseTo(2, 1);
  });

  it("is given up ten minutes after the end, and when the station is in use again", () => {
    const late = afterSet().read(50, 590).read(1, 30);
    expect([late.found_N, late.after]).toEqual([null, null]);
    const used = afterSet().read(1, 15).read(1, 0.1, false).read(1, 60);
    expect([used.found_N, used.after]).toEqual([null, null]);
  });

  it("is reckoned from the set's own zero, whatever tracking or an asked zero do meanwhile", () => {
    // Something rests on it long enough for the zero to be asked for with it; then it is taken away.
    const bench = afterSet().read(12, 100);
    const { at_us } = bench;
    const { zero_counts, counts_per_N } = FACTS;
    const shift = { shift_counts: 12 * counts_per_N, asked_shift_counts: 12 * counts_per_N };
    bench.zero = { ...bench.zero, held: { ...bench.zero.held, ...shift } };
    expect(bench.read(1.5, 20).found_N).toBeCloseTo(1.5, 1);
    expect(bench.found_at_us).toBeGreaterThan(at_us);
    expect(zero_counts).toBe(84_123);
  });

  it("does not bridge a pause of more than 300 ms, nor write to what it is given", () => {
    const reading = { kind: "reading", counts: FACTS.zero_counts + 1000, idle: true, still: true } as const;
    const measured = frozen({ zero_counts: FACTS.zero_counts, counts_per_N: 1000, capacity_N: 5000 });
    const run = (pause_us: number): number | null => {
      let watch = watchZeroAfter("set-1", 0, measured);
      let at_us = 10_000_000 - 100_000;
      for (let index = 0; index < 150; index++) {
        at_us += index === 60 ? pause_us : 100_000;
        const step = stepZeroAfter(frozen(watch), frozen({ ...reading, at_us }));
        if (step.watch === null) return index;
        watch = step.watch;
      }
      return null;
    };
    // The first reading comes after a pause of its own.
    expect(run(100_000)).toBe(101);
    expect(run(300_000)).toBe(99);
    expect(run(300_001)).toBe(null);
  });
});
