import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { median3 } from "../../../calibration/median.ts";
import { startZero, stepZero } from "../../../calibration/zero/zero.ts";
import { frozen } from "../frozen.ts";
import { FACTS, ZeroBench } from "./zero-bench.ts";

const MIRRORED = { ...FACTS, zero_counts: -FACTS.zero_counts, counts_per_N: -FACTS.counts_per_N };

describe("a tracked zero", () => {
  it("takes drift within 2 d away after a minute of quiet, and not a second sooner", () => {
    const bench = new ZeroBench().read(0.3, 59.9);
    expect(bench.shift_N).toBe(0);
    expect(bench.read(0.3, 0.3).shift_N).toBeCloseTo(0.3, 9);
    expect(bench.shown_N(0.3)).toBeCloseTo(0, 9);
  });

  it.each([8, 10, 80, 94])("does the same at %d readings a second", (rate_Hz) => {
    const bench = new ZeroBench().read(0.3, 59.5, { rate_Hz });
    expect(bench.shift_N).toBe(0);
    expect(bench.read(0.3, 3, { rate_Hz }).shift_N).toBeCloseTo(0.3, 9);
  });

  it("moves by half a d in ten seconds at most, at any time of it", () => {
    const bench = new ZeroBench();
    let last_N = 0;
    let last_s = 0;
    for (let s = 0; s < 200; s += 0.1) {
      bench.read(1.9, 0.1);
      if (bench.shift_N === last_N) continue;
      expect(bench.shift_N - last_N).toBeLessThanOrEqual(0.5 + 1e-9);
      if (last_N > 0) expect(s - last_s).toBeGreaterThanOrEqual(9.99);
      last_N = bench.shift_N;
      last_s = s;
    }
    expect(bench.shift_N).toBeCloseTo(1.9, 6);
  });

  it("takes 2 d for drift and anything above for a load, then waits a minute again", () => {
    expect(new ZeroBench().read(2, 61).shift_N).toBeCloseTo(0.5, 9);
    expect(new ZeroBench().read(2.001, 600).shift_N).toBe(0);
    expect(new ZeroBench().read(-2.001, 600).shift_N).toBe(0);
    const bench = new ZeroBench().read(0.3, 55).read(2.1, 0.1).read(0.3, 59.9);
    expect(bench.shift_N).toBe(0);
    expect(bench.read(0.3, 0.5).shift_N).toBeCloseTo(0.3, 9);
  });

  it.each([{ idle: false }, { still: false }])("does not move while %o, and waits a minute after", (flags) => {
    expect(new ZeroBench().read(0.3, 600, flags).shift_N).toBe(0);
    const bench = new ZeroBench().read(0.3, 55).read(0.3, 0.1, flags).read(0.3, 59.9);
    expect(bench.shift_N).toBe(0);
    expect(bench.read(0.3, 0.5).shift_N).toBeCloseTo(0.3, 9);
  });

  it("does not trust a pause of more than 300 ms, or time that steps back", () => {
    const paused = (pause_us: number): ZeroBench => {
      const bench = new ZeroBench().read(0.3, 55);
      bench.at_us += pause_us - 100_000;
      return bench.read(0.3, 6);
    };
    expect(paused(300_000).shift_N).toBeCloseTo(0.3, 9);
    expect(paused(300_001).shift_N).toBe(0);
    expect(paused(-1_000_000).shift_N).toBe(0);
    expect(paused(0).shift_N).toBeCloseTo(0.3, 9);
  });

  it("never goes further than 2 % of capacity from the last asked zero, then raises the alarm until it is back", () => {
    const ramp_N = (s: number): number => Math.min(0.02 * s, 110);
    const bench = new ZeroBench().read(ramp_N, 5600);
    expect(bench.shift_N).toBeLessThanOrEqual(100 + 1e-9);
    expect(bench.shift_N).toBeGreaterThan(99.9);
    expect(bench.alarms()).toEqual(["zero-out-of-range on"]);
    const [alarm] = bench.effects.filter((effect) => effect.do === "alarm");
    expect(alarm?.do === "alarm" && alarm.detail).toContain("drifted 100 N");
    bench.read(99, 75);
    expect(bench.alarms()).toEqual(["zero-out-of-range on", "zero-out-of-range off"]);
    expect(bench.shift_N).toBeLessThan(100);
  });

  it("reaches the limit exactly without an alarm", () => {
    const saved = { calibration_id: FACTS.calibration_id, shift_counts: 99_600, asked_shift_counts: 0 };
    const at = new ZeroBench(FACTS, saved).read(100, 90);
    expect(at.shift_N).toBeCloseTo(100, 9);
    expect(at.alarms()).toEqual([]);
    const above = new ZeroBench(FACTS, saved).read(100.01, 90);
    expect(above.shift_N).toBeCloseTo(100, 9);
    expect(above.alarms()).toEqual(["zero-out-of-range on"]);
  });

  it("measures its authority from the last asked zero, not from the calibrated one", () => {
    const far = { calibration_id: FACTS.calibration_id, shift_counts: 249_600, asked_shift_counts: 150_000 };
    expect(new ZeroBench(FACTS, far).read(250, 90).alarms()).toEqual([]);
    const above = new ZeroBench(FACTS, far).read(250.01, 90);
    expect(above.alarms()).toEqual(["zero-out-of-range on"]);
    expect(above.shift_N).toBeCloseTo(250, 9);
  });

  it("is saved in steps of half a d and at most every ten minutes, so that nothing wears out", () => {
    const bench = new ZeroBench().read((s) => 0.2 * Math.sin(s / 100), 3600);
    expect(bench.saves()).toEqual([]);
    expect(new ZeroBench().read(2, 61).saves()).toHaveLength(1);
    expect(new ZeroBench().read(0.499, 61).saves()).toEqual([]);
    const drifting = new ZeroBench().read((s) => 0.005 * s, 3600);
    expect(drifting.shift_N).toBeGreaterThan(17);
    expect(drifting.saves()).toHaveLength(6);
    const last = drifting.saves().at(-1)!;
    // What it drifts in ten minutes, and a step.
    expect(Math.abs(last.shift_counts / 1000 - drifting.shift_N)).toBeLessThan(3 + 0.5);
    // A hall that warms and cools, there and back by 3 d every two minutes.
    const swinging = new ZeroBench().read((s) => 1.5 * Math.sin((2 * Math.PI * s) / 240), 3600);
    expect(swinging.saves().length).toBeLessThanOrEqual(6);
    // Once the line's time has begun anew, what was saved in the former one does not count.
    drifting.give({ kind: "interrupted", detail: "The line was opened again." });
    drifting.at_us = 0;
    const moved_N = drifting.shift_N + 1;
    expect(drifting.read(moved_N, 90).saves()).toHaveLength(7);
    expect(last).toMatchObject({ calibration_id: FACTS.calibration_id, asked_shift_counts: 0 });
  });
});

describe("starting and reconnecting", () => {
  it("take the saved zero up as it was, and zero nothing", () => {
    const saved = { calibration_id: FACTS.calibration_id, shift_counts: 12_345, asked_shift_counts: 10_000 };
    const bench = new ZeroBench(FACTS, saved);
    expect(bench.shift_N).toBe(12.345);
    bench.read(312.345, 3600);
    expect(bench.shift_N).toBe(12.345);
    expect(bench.shown_N(312.345)).toBeCloseTo(300, 9);
    bench.give({ kind: "interrupted", detail: "The line was opened again." });
    bench.at_us = 0;
    expect(bench.read(312.345, 600).shift_N).toBe(12.345);
    // It is told, once, that this is not where the zero stood.
    expect(bench.alarms()).toEqual(["zero-moved on"]);
    expect(bench.effects).toHaveLength(1);
  });

  it("forget a zero that belongs to another calibration", () => {
    const saved = { calibration_id: "another", shift_counts: 12_345, asked_shift_counts: 10_000 };
    const { held } = startZero(saved, FACTS);
    expect([held.shift_counts, held.asked_shift_counts]).toEqual([0, 0]);
  });

  it("a minute counts from the first reading of the new epoch", () => {
    const bench = new ZeroBench().read(0.3, 55).give({ kind: "interrupted", detail: "It fell silent." });
    expect(bench.read(0.3, 59.9).shift_N).toBe(0);
    expect(bench.read(0.3, 0.5).shift_N).toBeCloseTo(0.3, 9);
  });
});

describe("what it must never do", () => {
  const segment = fc.record({
    force_N: fc.double({ min: -3, max: 3, noNaN: true }),
    seconds: fc.integer({ min: 1, max: 80 }),
    idle: fc.boolean(),
    still: fc.boolean(),
  });

  it("move outside idle, or by more than half a d at once when nobody asked", () => {
    fc.assert(
      fc.property(fc.array(segment, { maxLength: 12 }), (segments) => {
        const bench = new ZeroBench();
        for (const { force_N, seconds, idle, still } of segments) {
          for (let i = 0; i < seconds * 4; i += 1) {
            const before_N = bench.shift_N;
            bench.read(force_N, 0.25, { idle, still, rate_Hz: 4 });
            if (!idle || !still) expect(bench.shift_N).toBe(before_N);
            expect(Math.abs(bench.shift_N - before_N)).toBeLessThanOrEqual(0.5 + 1e-9);
          }
        }
      }),
      { numRuns: 60 },
    );
  });

  it.each([1000, 5000, 50_000])(
    "eat more of a slow hand or a hanging 20 N than its authority (cell of %d N)",
    (capacity_N) => {
      const facts = { ...FACTS, capacity_N };
      const authority_N = 0.02 * capacity_N;
      const slow_hand = new ZeroBench(facts).read((s) => (50 * s) / 3600, 3600);
      expect(Math.abs(slow_hand.shift_N)).toBeLessThanOrEqual(Math.min(50, authority_N) + 1e-9);
      const hanging = new ZeroBench(facts).read(0, 120).read(20, 3600);
      expect(hanging.shift_N).toBeLessThanOrEqual(authority_N + 1e-9);
      // 20 N is a load to all but the largest cell, whose 2 d are 20 N.
      expect(hanging.shift_N).toBeCloseTo(capacity_N === 50_000 ? 20 : 0, 6);
    },
  );

  it("move for one impulse at any index, behind the median", () => {
    const spike = fc.oneof(
      fc.integer({ min: 1, max: 23 }).map((bits) => 2 ** bits - 1),
      fc.constant(-8_388_608),
    );
    fc.assert(
      fc.property(fc.nat(1299), spike, (at, value) => {
        const run = (spiked: boolean) => {
          const raw = new Array<number>(1300).fill(FACTS.zero_counts + 300);
          if (spiked) raw[at] = value;
          let state = startZero(null, FACTS);
          const shifts: number[] = [];
          for (let i = 2; i < raw.length; i += 1) {
            const counts = median3(raw[i - 2]!, raw[i - 1]!, raw[i]!);
            const input = { kind: "reading", at_us: i * 100_000, counts, idle: true, still: true } as const;
            const step = stepZero(state, input, FACTS);
            expect(step.effects).toEqual([]);
            state = step.state;
            shifts.push(state.held.shift_counts);
          }
          return shifts;
        };
        expect(run(true)).toEqual(run(false));
      }),
      { numRuns: 50 },
    );
  });

  it("treat reversed wires differently: mirrored counts give the same forces and shifts", () => {
    const script = (bench: ZeroBench): ZeroBench =>
      bench
        .read((s) => 0.01 * s, 150)
        .ask("small")
        .read(9, 5)
        .read(30, 60)
        .ask("large")
        .read(40, 3)
        .ask("large-confirmed", true)
        .read(40, 3)
        .read(5, 5);
    const plain = script(new ZeroBench());
    const mirrored = script(new ZeroBench(MIRRORED));
    expect(mirrored.shift_N).toBeCloseTo(plain.shift_N, 9);
    expect(mirrored.alarms()).toEqual(plain.alarms());
    expect(mirrored.error("large")).toBe(plain.error("large"));
    expect(plain.error("large")).toContain("needs confirming");
    expect(plain.alarms()).toEqual(["zero-moved on", "zero-moved on", "zero-suspect on", "zero-moved off"]);
  });

  it("write to what it is given", () => {
    const state = frozen(startZero(null, frozen({ ...FACTS })));
    const input = frozen({ kind: "reading", at_us: 1, counts: 5, idle: true, still: true } as const);
    expect(() => stepZero(state, input, FACTS)).not.toThrow();
  });
});
