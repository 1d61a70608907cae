import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { LineInput } from "../../../protocol/serial-line/events.ts";
import { feed, line, opened, readingsOf } from "./sources.ts";

const START_US = 5_000_000;

/** When each of the readings made every `period_us` is handed over by an adapter with a timer of `every_us`. */
function arrivals(period_us: number, every_us: number, count: number): number[] {
  return Array.from({ length: count }, (_, index) => {
    const made_us = START_US + index * period_us;
    return every_us === 0 ? made_us : Math.ceil(made_us / every_us) * every_us;
  });
}

const numbered = (times: readonly number[]): LineInput[] => times.map((at_us, index) => line(String(index), at_us));
const timesOf = (inputs: readonly LineInput[]) => {
  return readingsOf(feed(opened("bare", START_US), inputs).events).map(({ at_us }) => at_us);
};

describe("a bare line", () => {
  it.each([
    ["84123", 84_123],
    ["-84123\r", -84_123],
    ["+7", 7],
    ["  0042 ", 42],
    ["-0", 0],
    ["8388607", 8_388_607],
    ["-8388608", -8_388_608],
  ])("is one signed integer: %j", (text, counts) => {
    expect(feed(opened("bare"), [line(text, 9)]).events).toEqual([
      { kind: "reading", at_us: 9, counts, muscle_action: null, lost: 0 },
    ]);
  });

  it.each([
    ["12.5", "bad-field"],
    ["12 13", "bad-field"],
    ["weight: 12", "bad-field"],
    ["-", "bad-field"],
    ["8388608", "out-of-range"],
    ["-8388609", "out-of-range"],
    [`${" ".repeat(120)}1`, "too-long"],
  ])("is nothing else: %j", (text, reject) => {
    expect(feed(opened("bare"), [line(text, 9)]).events).toEqual([{ kind: "rejected", reject }]);
  });

  it("is dropped when it is the first after an open, and passed over when empty", () => {
    const { state, events } = feed(opened("bare"), [
      { kind: "closed" },
      line("5", 1),
      { kind: "opened" },
      line("23", 2),
      line("", 3),
      line("\r", 4),
      line("123", 5),
    ]);
    expect(events).toMatchObject([
      { kind: "epoch", because: "opened" },
      { kind: "reading", counts: 123 },
    ]);
    expect(Object.values(state.rejects)).toEqual([0, 0, 0, 0, 0, 0]);
  });
});

describe("time of a bare source", () => {
  const settled = 80 * 10;

  it.each([
    [80, 16_000],
    [80, 32_000],
    [94, 16_000],
    [94, 32_000],
    [10, 16_000],
    [10, 32_000],
  ])("is near the same at %i a second whether readings come evenly or every %i us", (rate_Hz, every_us) => {
    const period_us = Math.round(1e6 / rate_Hz);
    const count = rate_Hz * 40;
    const even = timesOf(numbered(arrivals(period_us, 0, count)));
    const bursts = timesOf(numbered(arrivals(period_us, every_us, count)));
    const from = rate_Hz * 10;
    const apart = even.slice(from).map((at_us, index) => Math.abs(at_us - bursts[from + index]!));
    // Unsmoothed they are up to `every_us` apart. Where rate and timer beat for many seconds (94 readings, 32 ms) or the
    // readings are few, the earliest arrival is seen seldom.
    expect(Math.max(...apart)).toBeLessThan(every_us / 4);
    expect(apart.reduce((sum, us) => sum + us, 0) / apart.length).toBeLessThan(every_us / 10);
    const steps = bursts.slice(from).map((at_us, index) => at_us - (bursts[from + index - 1] ?? 0));
    expect(Math.max(...steps.map((step_us) => Math.abs(step_us - period_us)))).toBeLessThan(period_us / 4);
  });

  it("never decreases and is never ahead of an arrival, however they come", () => {
    fc.assert(
      fc.property(fc.array(fc.oneof(fc.nat(40_000), fc.nat(3_000_000), fc.constant(0)), { maxLength: 400 }), (gaps) => {
        let at_us = START_US;
        const times = gaps.map((gap_us) => (at_us += gap_us));
        const given = timesOf(numbered(times));
        expect(given).toEqual([...given].sort((a, b) => a - b));
        expect(given.every((time_us, index) => time_us <= times[index]!)).toBe(true);
      }),
      { numRuns: 200 },
    );
  });

  it("takes no notice of a host that stalled for 700 ms", () => {
    const even = arrivals(12_500, 0, 80 * 20);
    const stall_us = START_US + 15_000_000;
    const late = even.map((at_us) => (at_us >= stall_us && at_us < stall_us + 700_000 ? stall_us + 700_000 : at_us));
    const apart = timesOf(numbered(late)).map((at_us, index) => Math.abs(at_us - even[index]!));
    expect(Math.max(...apart.slice(settled))).toBeLessThan(1000);
  });

  it.each([300_000, 700_000, 5_000_000])(
    "shows a silence of %i us of the board, one reading late at most",
    (silent_us) => {
      const before = arrivals(12_500, 0, 80 * 12);
      const last_us = before.at(-1)!;
      const after = Array.from({ length: 80 }, (_, index) => last_us + silent_us + index * 12_500);
      const given = timesOf(numbered([...before, ...after]));
      expect(after[2]! - given[before.length + 2]!).toBeLessThan(1000);
      expect(given[before.length - 1]! - before.at(-1)!).toBeLessThan(1000);
    },
  );

  it.each([
    [100, 60_000],
    [10, 130_000],
  ])("keeps to its line while one in %i is lost, which it cannot see", (one_in, within_us) => {
    const even = arrivals(12_500, 0, 80 * 60);
    const kept = even.filter((_, index) => index < 1000 || index % one_in !== 0);
    const given = timesOf(numbered(kept));
    const late = kept.map((at_us, index) => at_us - given[index]!).slice(settled);
    expect(Math.max(...late)).toBeLessThan(within_us);
  });

  it("follows the rate when it changes", () => {
    const slow = arrivals(12_500, 0, 80 * 10);
    const last_us = slow.at(-1)!;
    const fast = Array.from({ length: 94 * 30 }, (_, index) => last_us + (index + 1) * 10_638);
    const given = timesOf(numbered([...slow, ...fast]));
    const late = fast.map((at_us, index) => at_us - given[slow.length + index]!);
    expect(Math.max(...late.slice(-94 * 5))).toBeLessThan(2000);
  });
});
