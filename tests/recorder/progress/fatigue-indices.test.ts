/**
 * The loss of a set beside the fatigue indices of the literature. Ours goes from best to last; two others are worked out here from
 * the efforts a set's message carries, so that whoever wants them can have them.
 *
 * First to last as in PMC3776088; percent decrement of forces after Glaister 2008 (Journal of Strength and Conditioning Research
 * 22:1597; the form for forces from memory). The vector is worked out by hand.
 */
import { describe, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { fractionOut } from "../../../protocol/units.ts";
import { lossSince } from "../../../recorder/station/set-message.ts";
import { plateaus } from "../set-engine/run.ts";
import { readyBench } from "../station/bench.ts";

const PEAKS_N = [500, 520, 510, 480, 450, 416];

/** Efforts of 2 s with a level top, every 3 s, by a station at 30 % that ends in rest. */
const setOf = (peaks_N: readonly number[]): SetMessage =>
  readyBench()
    .begin({ style: "continuous", fatigue_threshold: 0.3 })
    .pull(3 * peaks_N.length + 12, plateaus(peaks_N.map((peak_N, index) => [1 + 3 * index, 2, peak_N] as const))).set;

describe("500, 520, 510, 480, 450, 416 N pulled at a station", () => {
  const set = setOf(PEAKS_N);
  const peaks_N = set.efforts.map(({ peak_force_N }) => peak_force_N);
  const [first_N, last_N] = [peaks_N[0]!, peaks_N.at(-1)!];
  const best_N = Math.max(...peaks_N);
  const sum_N = peaks_N.reduce((sum, peak_N) => sum + peak_N, 0);

  it("loses 20.0 % from best to last, as its message says", () => {
    expect(set.best_force_N).toBeCloseTo(520, 0);
    expect(set.force_loss).toBeCloseTo(0.2, 3);
  });

  it("loses 16.8 % from first to last", () => expect((first_N - last_N) / first_N).toBeCloseTo(0.168, 3));

  it("has a percent decrement of 7.82 %", () => {
    expect(peaks_N).toHaveLength(6);
    expect(1 - sum_N / (peaks_N.length * best_N)).toBeCloseTo(0.0782, 3);
  });
});

describe("the published loss of the knee extensors, 197.3 to 163.1 (PMC3776088)", () => {
  it("is 17.3 % by our arithmetic", () => {
    expect(lossSince(197.3, 163.1)).toBeCloseTo(0.1733, 4);
    expect(fractionOut(lossSince(197.3, 163.1))).toBe(0.1733);
  });

  it("is nought where the last is above the best, and unknown where one is", () => {
    expect(lossSince(163.1, 197.3)).toBe(0);
    expect(lossSince(null, 163.1)).toBeNull();
    expect(lossSince(197.3, null)).toBeNull();
  });
});
