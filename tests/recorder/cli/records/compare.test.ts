import { describe, expect, it } from "vitest";
import { compareRecords, sayComparison } from "../../../../recorder/cli/records/compare.ts";
import { inventedRecord } from "../../store/invented.ts";

const HOUSE = { unit: "N", time_zone: "UTC" } as const;
const CONSTANT = { source: "friction", standard_uncertainty_N: 3, constant: true } as const;
const former = inventedRecord(1, {
  counts_per_N: 400,
  zero_counts: 10_000,
  working_force_N: 1000,
  // Root of 9 + 16, twice.
  expanded_uncertainty_N: 10,
  budget: [CONSTANT, { source: "mass", standard_uncertainty_N: 4 }],
});
const later = inventedRecord(2, {
  ...former,
  calibration_id: inventedRecord(2).calibration_id,
  at: inventedRecord(2).at,
});

describe("two records", () => {
  it("are put in the order in which they were taken, whichever is named first", () => {
    expect(compareRecords(later, former)).toEqual(compareRecords(former, later));
    expect(compareRecords(later, former).former).toBe(former.calibration_id);
  });

  it("by their scale, in fractions, ppm and newtons, and their zero by the later scale", () => {
    const changed = { ...later, counts_per_N: 404, zero_counts: 10_202 };
    expect(compareRecords(former, changed)).toMatchObject({
      scale_change: expect.closeTo(0.01, 12),
      scale_change_ppm: expect.closeTo(10_000, 6),
      // At 1000 N.
      change_N: expect.closeTo(10, 9),
      zero_change_N: expect.closeTo(0.5, 12),
    });
  });

  it("with the former's uncertainty where the later one is looked at: what is constant stays", () => {
    // Root of 3 x 3 and 8 x 8, twice, at twice the force.
    const found = compareRecords(former, { ...later, working_force_N: 2000 });
    expect(found.former_expanded_uncertainty_N).toBeCloseTo(2 * Math.hypot(3, 8), 12);
    expect(found.combined_expanded_uncertainty_N).toBeCloseTo(Math.hypot(2 * Math.hypot(3, 8), 10), 12);
    const bare = compareRecords({ ...former, budget: [] }, { ...later, working_force_N: 2000 });
    expect(bare.former_expanded_uncertainty_N).toBe(10);
  });

  it.each<[number, boolean]>([
    // The root of 10 x 10 + 10 x 10 at 1000 N is 14.142 N, or 1.4142 % of it.
    [1.01414, true],
    [1.01415, false],
    [0.98586, true],
    [0.98585, false],
  ])("a scale %d times the former is within what both may be off: %s", (factor, within) => {
    const changed = { ...later, counts_per_N: 400 * factor };
    expect(compareRecords(former, changed).within).toBe(within);
    expect(sayComparison(former, changed, HOUSE)).toContain(
      within ? "within the 14.14 N that both" : "more than the 14.14 N that both",
    );
  });

  it("and what they were taken with, where it differs", () => {
    const changed = { ...later, board: "press-right", gain: 64, cell: "LC-2" };
    expect(compareRecords(former, changed).differs).toEqual([
      { what: "cell", former: null, later: "LC-2" },
      { what: "board", former: "press-left", later: "press-right" },
      { what: "gain", former: 128, later: 64 },
    ]);
    expect(sayComparison(former, changed, HOUSE)).toContain("not taken with the same things (cell, board, gain)");
    expect(sayComparison(former, later, HOUSE)).not.toContain("same things");
  });

  it("a change that rounds to nothing has no sign", () => {
    for (const factor of [1 - 1e-7, 1 + 1e-7]) {
      const text = sayComparison(former, { ...later, counts_per_N: 400 * factor }, HOUSE);
      expect(text).toContain("The scale has changed by 0.000 % (0 ppm): 0.00 N at 1000 N, within");
    }
  });

  it("wires that were turned round are no change of scale, and say nothing of the zero", () => {
    const turned = { ...later, counts_per_N: -404, zero_counts: -9_000 };
    expect(compareRecords(former, turned)).toMatchObject({
      scale_change: expect.closeTo(0.01, 12),
      wires_turned: true,
      zero_change_N: null,
      within: true,
    });
    const said = sayComparison(former, turned, HOUSE);
    expect(said).toContain("The scale has changed by +1.000 %");
    expect(said).toContain("The wires are the other way round; the zeros cannot be compared.");
  });

  it("are said so", () => {
    const changed = { ...later, counts_per_N: 400.5, zero_counts: 10_040, performed_by: null };
    expect(sayComparison(former, changed, HOUSE)).toBe(
      [
        "                                            former                later",
        "calibration                               01930000             01930000",
        "taken                          2026-11-24 09:01:00  2026-11-24 09:02:00",
        "by                                          tech-1                    -",
        "scale, counts/N                           400.0000             400.5000",
        "zero, counts                               10000.0              10040.0",
        "uncertainty at 1000 N (k = 2)               10.0 N               10.0 N",
        "",
        "The scale has changed by +0.125 % (+1250 ppm): 1.25 N at 1000 N, within the 14.14 N that both may be off together.",
        "",
        "The calibrated zero has moved by 0.10 N.",
      ].join("\n"),
    );
  });
});
