/** Stretches of a record: where a break or another dose begins a new one. */
import { describe, expect, it } from "vitest";
import { daysBetween, isSameThreshold, sinceBreak, sinceDose } from "../../../recorder/progress/episode.ts";
import { DEFAULT_RULES } from "../../../recorder/progress/trend.ts";
import { visit } from "./series.ts";

const at = (offsets: readonly number[], thresholds: readonly (number | null)[] = []) =>
  offsets.map((offset, index) => visit(offset, 1000, { fatigue_threshold: thresholds[index] ?? 0.4 }));
const from = (days: readonly { readonly set_seq: number }[]): number[] => days.map(({ set_seq }) => set_seq);

describe("days between two dates", () => {
  it.each([
    ["2026-01-01", "2026-01-01", 0],
    ["2026-02-28", "2026-03-01", 1],
    ["2028-02-28", "2028-03-01", 2],
    // The clocks of most houses go on by an hour in between; a date has none.
    ["2026-03-28", "2026-03-30", 2],
    ["2025-12-31", "2026-12-31", 365],
    ["2026-01-02", "2026-01-01", -1],
  ])("%s to %s: %d", (one, other, days) => expect(daysBetween(one, other)).toBe(days));
});

describe("a break", () => {
  it("is 22 days, not 21", () => {
    expect(from(sinceBreak(at([0, 21, 42]), DEFAULT_RULES))).toEqual([0, 21, 42]);
    expect(from(sinceBreak(at([0, 22, 43]), DEFAULT_RULES))).toEqual([22, 43]);
    expect(from(sinceBreak(at([0, 21, 43]), DEFAULT_RULES))).toEqual([43]);
  });

  it("counts only the newest one, and of no days there are none", () => {
    expect(from(sinceBreak(at([0, 40, 44, 90, 94, 98]), DEFAULT_RULES))).toEqual([90, 94, 98]);
    expect(sinceBreak([], DEFAULT_RULES)).toEqual([]);
    expect(sinceDose([], DEFAULT_RULES)).toEqual([]);
  });
});

describe("a dose", () => {
  it("lasts while the threshold stays", () => {
    expect(from(sinceDose(at([0, 4, 8, 12], [0.4, 0.4, 0.35, 0.35]), DEFAULT_RULES))).toEqual([8, 12]);
    expect(from(sinceDose(at([0, 4, 8, 12], [0.35, 0.4, 0.35, 0.35]), DEFAULT_RULES))).toEqual([8, 12]);
  });

  it("does not outlast a break", () => {
    expect(from(sinceDose(at([0, 4, 30, 34]), DEFAULT_RULES))).toEqual([30, 34]);
  });

  it("goes by whole percent; none is not nought", () => {
    expect(isSameThreshold(0.4, 0.404)).toBe(true);
    expect(isSameThreshold(0.4, 0.41)).toBe(false);
    expect(isSameThreshold(0.1 + 0.2, 0.3)).toBe(true);
    expect(isSameThreshold(null, null)).toBe(true);
    expect(isSameThreshold(null, 0)).toBe(false);
    expect(isSameThreshold(0.4, null)).toBe(false);
  });
});
