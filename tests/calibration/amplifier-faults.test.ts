import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  AMPLIFIER_UNSEEN,
  type AmplifierFaultEvent,
  type AmplifierFaults,
  stepAmplifierFaults,
} from "../../calibration/amplifier-faults.ts";
import { frozen } from "./frozen.ts";
import { seededNoise } from "./seeded-noise.ts";

const PERIOD_US = 12_500;
const HIGH = 8_388_607;
const LOW = -8_388_608;

function fed(
  counts: readonly number[],
  watch_stuck = true,
  from: AmplifierFaults = AMPLIFIER_UNSEEN,
  from_us = 0,
): { state: AmplifierFaults; events: (AmplifierFaultEvent & { at: number })[] } {
  let state = from;
  const events: (AmplifierFaultEvent & { at: number })[] = [];
  for (const [at, value] of counts.entries()) {
    const step = stepAmplifierFaults(
      frozen(state),
      { kind: "reading", at_us: from_us + at * PERIOD_US, counts: value },
      watch_stuck,
    );
    state = step.state;
    events.push(...step.events.map((event) => ({ ...event, at })));
  }
  return { state, events };
}

const live = (length: number, seed = 1): number[] => {
  const noise = seededNoise(seed);
  return Array.from({ length }, () => Math.round(84_123 + noise(39)));
};

describe("saturation", () => {
  it.each([HIGH, LOW])("of one reading (%d) is a spike, of two in three a fault, gone after three good ones", (end) => {
    expect(fed([...live(5), end, ...live(5)]).events).toEqual([]);
    const { events } = fed([...live(5), end, 84_000, end, 84_001, 84_002, 84_003, 84_004]);
    expect(events.map(({ fault, on, at }) => [fault, on, at])).toEqual([
      ["saturated", true, 7],
      ["saturated", false, 10],
    ]);
    expect(events[0]?.detail).toContain("end of its range");
  });

  it("counts two ends as one fault, and three good readings between two spikes as none", () => {
    expect(fed([1, 2, 3, HIGH, LOW]).events.map((event) => event.at)).toEqual([4]);
    expect(fed([...live(3), HIGH, ...live(2), HIGH, ...live(2), LOW, ...live(9)]).events).toEqual([]);
  });

  it("is saturation, not a stuck value, however long it lasts", () => {
    const { events, state } = fed(new Array<number>(400).fill(HIGH));
    expect(events.map(({ fault, on }) => [fault, on])).toEqual([["saturated", true]]);
    expect(state.fault).toBe("saturated");
  });
});

describe("a stuck value", () => {
  it("is a fault at 2 s of device time, not just before, at any rate", () => {
    for (const period_us of [10_638, 12_500, 100_000, 125_000]) {
      let state = AMPLIFIER_UNSEEN;
      let first_us: number | null = null;
      for (let at_us = 0; at_us < 4_000_000; at_us += period_us) {
        const step = stepAmplifierFaults(state, { kind: "reading", at_us, counts: 5 }, true);
        if (step.events.length > 0) first_us ??= at_us;
        state = step.state;
      }
      // The median needs three readings before it can begin to stand still.
      const begun_us = 2 * period_us;
      expect(first_us! - begun_us).toBeGreaterThanOrEqual(2_000_000);
      expect(first_us! - begun_us).toBeLessThan(2_000_000 + period_us);
    }
  });

  it("shows through spikes, and goes with the first lively readings", () => {
    const stuck = Array.from({ length: 240 }, (_, i) => (i % 40 === 7 ? HIGH : 1234));
    const { events } = fed([...stuck, ...live(10)]);
    expect(events.map(({ fault, on }) => [fault, on])).toEqual([
      ["stuck", true],
      ["stuck", false],
    ]);
    expect(events[0]?.detail).toContain("1234");
    expect(events[1]?.at).toBe(241);
  });

  it("is not watched for on boards that may round", () => {
    expect(fed(new Array<number>(400).fill(5), false).events).toEqual([]);
  });

  it("bridges a pause of 300 ms but not one longer, nor time that steps back", () => {
    const paused = (pause_us: number): number => {
      const before = fed(new Array<number>(100).fill(5)).state;
      return fed(new Array<number>(100).fill(5), true, before, 99 * PERIOD_US + pause_us).events.length;
    };
    expect(paused(0)).toBe(1);
    expect(paused(300_000)).toBe(1);
    expect(paused(300_001)).toBe(0);
    expect(paused(-1)).toBe(0);
  });

  it("is not proven by a value that is the same on both sides of a gap, nor forgotten in one", () => {
    const before = fed(new Array<number>(100).fill(5)).state;
    const gap_us = 100 * PERIOD_US + 1_000_000;
    expect(fed(new Array<number>(150).fill(5), true, before, gap_us).events).toEqual([]);
    const stuck = fed(new Array<number>(200).fill(5)).state;
    expect(stuck.fault).toBe("stuck");
    expect(fed(new Array<number>(5).fill(5), true, stuck, 200 * PERIOD_US + 1_000_000).events).toEqual([]);
  });
});

describe("one impulse anywhere in a live signal", () => {
  it("raises nothing, whether 2^n - 1, nothing, or a flipped sign", () => {
    const spike = fc.oneof(
      fc.integer({ min: 1, max: 23 }).map((bits) => 2 ** bits - 1),
      fc.constantFrom(0, -1, LOW, -84_123),
    );
    fc.assert(
      fc.property(fc.nat(199), spike, fc.nat(), (at, value, seed) => {
        const counts = live(200, seed);
        counts[at] = value;
        expect(fed(counts).events).toEqual([]);
      }),
    );
  });
});

it("a new epoch takes a standing fault back and forgets the readings", () => {
  const { state } = fed([HIGH, HIGH, HIGH]);
  const step = stepAmplifierFaults(frozen(state), { kind: "epoch" }, true);
  expect(step.events).toEqual([{ fault: "saturated", on: false, detail: "" }]);
  expect(step.state).toEqual(AMPLIFIER_UNSEEN);
  expect(stepAmplifierFaults(step.state, { kind: "epoch" }, true).events).toEqual([]);
});
