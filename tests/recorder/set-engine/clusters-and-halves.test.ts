/** What belongs together: clusters in rest-pause, halves of a repetition in continuous. */
import { describe, expect, it } from "vitest";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import { at100, corners, effortsOf, halfSines, plateaus, type Run, resultOf, type Trace, toldOf } from "./run.ts";

describe("clusters", () => {
  /** Clusters of efforts of 2 s, 1 s apart inside one, 10 s from one to the next. */
  function clusters(...peaks: readonly (readonly number[])[]): Trace["force"] {
    const efforts: [number, number, number][] = [];
    let at_s = 1;
    for (const cluster of peaks) {
      for (const peak_N of cluster) {
        efforts.push([at_s, 2, peak_N]);
        at_s += 3;
      }
      at_s += 9;
    }
    return plateaus(efforts);
  }
  const ran = (efforts_per_cluster: number, force: Trace["force"]) =>
    at100({ style: "rest-pause", options: { efforts_per_cluster } }, { force, lasts_s: 150 });

  it.each([
    ["of one", 1, [[1000], [1000], [500], [1000]], 3],
    [
      "of two, both below",
      2,
      [
        [1000, 1000],
        [500, 500],
        [1000, 1000],
      ],
      4,
    ],
    ["of three", 3, [[1000, 990, 980], [500, 500, 500], [1000]], 6],
    ["of four", 4, [[1000, 990, 980, 970], [500, 500, 500, 500], [1000]], 8],
  ] as const)("%s: the set ends with the first below the floor", (_, size, peaks, efforts) => {
    const result = resultOf(ran(size, clusters(...peaks)));
    expect(result.stop_reason).toBe("effort-below-floor");
    expect(result.efforts).toHaveLength(efforts);
  });

  it("are compared by their higher peak", () => {
    for (const second of [
      [500, 1000],
      [1000, 500],
    ] as const) {
      expect(resultOf(ran(2, clusters([1000, 1000], second, [1000, 1000]))).stop_reason).toBe("rest-limit");
    }
    expect(resultOf(ran(3, clusters([1000, 1000, 1000], [500, 400, 610]))).stop_reason).toBe("rest-limit");
    expect(resultOf(ran(3, clusters([1000, 1000, 1000], [500, 400, 590]))).stop_reason).toBe("effort-below-floor");
  });

  // The second cluster is one effort below the floor; what follows it comes so long after its end.
  it.each([
    [5.9, "rest-limit"],
    [6.1, "effort-below-floor"],
  ])("a gap of %f s: %s", (gap_s, reason) => {
    const force = plateaus([
      [1, 2, 1000],
      [4, 2, 1000],
      [15, 2, 500],
      [17 + gap_s, 2, 1000],
    ]);
    const result = resultOf(ran(2, force));
    expect(result.stop_reason).toBe(reason);
    // The gap itself completes the cluster: nobody has to push again to hear the stop.
    if (reason === "effort-below-floor") expect(Math.abs(result.decided_us / 1e6 - 23)).toBeLessThan(0.03);
  });

  it("repeated short holds fit: each is an effort", () => {
    const holds = plateaus([
      [1, 5, 1000],
      [16, 5, 950],
      [31, 5, 900],
      [46, 5, 590],
    ]);
    const result = resultOf(ran(1, holds));
    expect(result.stop_reason).toBe("effort-below-floor");
    expect(result.efforts).toHaveLength(4);
    expect(result.time_under_tension_s).toBeGreaterThan(15);
  });

  it("rest counts between them", () => {
    const result = resultOf(ran(2, clusters([1000, 1000], [900, 900])));
    expect(result.stop_reason).toBe("rest-limit");
    expect(Math.abs(result.decided_us / 1e6 - (21 - 0.03 + 40))).toBeLessThan(0.05);
  });

  it("the call comes when the last of a cluster can no longer reach the floor, not with the first", () => {
    const slow = corners(
      [1, 0],
      [1.1, 1000],
      [3, 1000],
      [3.1, 0],
      [4, 0],
      [4.1, 1000],
      [6, 1000],
      [6.1, 0],
      [15, 0],
      [15.1, 400],
      [16, 450],
      [16.2, 350],
      [20, 350],
      [20.1, 0],
      [22, 0],
      [22.1, 400],
      [23, 450],
      [23.2, 350],
      [29, 350],
    );
    const result = resultOf(ran(2, slow));
    expect(result.stop_reason).toBe("effort-below-floor");
    expect(result.decided_us / 1e6).toBeGreaterThan(23.2);
    expect(result.decided_us / 1e6).toBeLessThan(23.8);
  });
});

describe("halves of a repetition", () => {
  const HALVES = { style: "continuous", peaks_per_repetition: 2 } as const;
  const reports = (ran_: Run) =>
    effortsOf(ran_).map((effort) => [Math.round(effort.peak_N), effort.counted, effort.decides]);

  /** Up at 800 N and down at 1080 N, 1.2 s each; 300 N between the two, `deep_N` between repetitions. */
  const repeated = (count: number, deep_N: number, scale = (_repetition: number) => 1) =>
    corners(
      [1, 0],
      ...Array.from({ length: count }, (_, index) => {
        const at_s = 1 + 3 * index;
        const share = scale(index);
        return [
          [at_s + 0.3, 800 * share],
          [at_s + 1.2, 800 * share],
          [at_s + 1.5, 300 * share],
          [at_s + 1.8, 1080 * share],
          [at_s + 2.7, 1080 * share],
          [at_s + 3, deep_N],
        ] as const;
      }).flat(),
    );

  it.each([0, 60])("join to repetitions by their higher peak, %i N between them", (deep_N) => {
    const ran_ = at100(HALVES, { force: repeated(4, deep_N), lasts_s: 12.9 });
    for (const [peak_N, counted, decides] of reports(ran_))
      expect([peak_N, counted, decides]).toEqual([1080, true, true]);
    expect(effortsOf(ran_).length).toBeGreaterThanOrEqual(3);
    expect(viewOf(ran_.state).best_N).toBeCloseTo(1080, 6);
    for (const effort of effortsOf(ran_)) {
      expect(Math.abs((effort.end_us - effort.start_us) / 1e6 - 3)).toBeLessThan(0.15);
      expect(effort.impulse_N_s).toBeGreaterThan(2000);
    }
  });

  it("with one peak a repetition each half is an effort of its own", () => {
    const ran_ = at100({ style: "continuous" }, { force: repeated(4, 0), lasts_s: 12.9 });
    expect(
      reports(ran_)
        .slice(0, 4)
        .map(([peak_N]) => peak_N),
    ).toEqual([800, 1080, 800, 1080]);
  });

  it("are never compared: the weaker half of a fresh repetition ends nothing", () => {
    // At 20 % the floor is 864 N, above every lifting half.
    const changes = { ...HALVES, fatigue_threshold: 0.2 };
    const fresh = at100(changes, { force: repeated(8, 0), lasts_s: 25 });
    expect(toldOf(fresh)).not.toContain("effort-below-floor");
    expect(toldOf(fresh)).not.toContain("nearing");
    const tired = at100(changes, { force: repeated(8, 0, (index) => (index < 5 ? 1 : 0.78)), lasts_s: 25 });
    expect(resultOf(tired).stop_reason).toBe("effort-below-floor");
    expect(resultOf(tired).efforts).toHaveLength(6);
  });

  it("find their pairs again when the pairing slipped", () => {
    // The set begins with a half: down first. From the second deep valley on the repetitions are whole.
    const slipped = corners([1, 0], [1.3, 1080], [2.2, 1080], [2.5, 60], ...shifted(repeatedCorners(5), 1.5));
    const ran_ = at100(HALVES, { force: slipped, lasts_s: 17.4 });
    const whole = effortsOf(ran_).slice(2);
    expect(whole.length).toBeGreaterThanOrEqual(2);
    for (const effort of whole) {
      expect(effort.peak_N).toBeCloseTo(1080, 6);
      // Deep valleys lie at 2.5, 5.5, 8.5 ... s.
      expect(Math.abs(((effort.start_us / 1e6 - 2.5) % 3) - 0) < 0.1 || (effort.start_us / 1e6 - 2.5) % 3 > 2.9).toBe(
        true,
      );
    }
  });

  it("a half whose other half never comes stands alone after 4 s, counted and not compared", () => {
    const lone = (at_s: number) => (at_s < 7 ? repeated(2, 0)(at_s) : halfSines([[9, 1.3, 700]])(at_s));
    const ran_ = at100(HALVES, { force: lone, lasts_s: 30 });
    expect(reports(ran_).at(-1)).toEqual([expect.closeTo(690, -1), true, false]);
    expect(
      ran_.told.find(({ effect }) => effect.do === "effort" && effect.effort.effort_number === 3)?.at_s,
    ).toBeCloseTo(14.3, 1);
    expect(resultOf(ran_).final_N).toBeCloseTo(1080, 6);
    expect(resultOf(ran_).stop_reason).toBe("rest-limit");
  });

  it("a half cut off by the end is counted and not compared", () => {
    const ran_ = at100({ ...HALVES, options: { time_limit_s: 7.3 } }, { force: repeated(5, 0), lasts_s: 30 });
    expect(resultOf(ran_).stop_reason).toBe("time-limit");
    expect(resultOf(ran_).efforts.length).toBe(3);
    expect(resultOf(ran_).final_N).toBeGreaterThan(700);
  });

  it("hanging after them: every moment belongs to one effort, and the first half is not compared", () => {
    const fresh = repeatedCorners(3);
    const second = corners([1, 0], ...fresh.slice(0, -1), [10.3, 500], [60, 500]);
    const first = corners([1, 0], ...fresh, [10.3, 800], [11.2, 800], [11.5, 500], [60, 500]);
    for (const [force, decides] of [
      [second, true],
      [first, false],
    ] as const) {
      const ran_ = at100(HALVES, { force, lasts_s: 40 });
      const result = resultOf(ran_);
      expect(result.stop_reason).toBe("effort-below-floor");
      expect(result.time_under_tension_s).toBeLessThanOrEqual(result.duration_s + 1e-9);
      for (const [index, effort] of result.efforts.slice(1).entries()) {
        expect(effort.start_us).toBeGreaterThanOrEqual(result.efforts[index]?.end_us ?? 0);
      }
      expect(effortsOf(ran_)).toEqual(result.efforts);
      expect(result.efforts.at(-2)?.decides).toBe(decides);
      expect(result.final_N).toBeCloseTo(500, 6);
    }
  });

  it("hanging instead of the second half leaves the first alone, and counts by itself", () => {
    const force = corners(
      [1, 0],
      ...repeatedCorners(3),
      [10.3, 800],
      [11.2, 800],
      [11.5, 60],
      [12, 60],
      [12.2, 500],
      [60, 500],
    );
    const result = resultOf(at100(HALVES, { force, lasts_s: 40 }));
    expect(result.stop_reason).toBe("effort-below-floor");
    expect(
      result.efforts.slice(-2).map((effort) => [Math.round(effort.peak_N), effort.decides, effort.below_floor]),
    ).toEqual([
      [800, false, null],
      [500, true, true],
    ]);
    expect(result.final_N).toBeCloseTo(500, 6);
  });

  it("the end between two halves leaves the first alone", () => {
    const force = corners([1, 0], ...repeatedCorners(2), [7.3, 800], [8.2, 800], [8.5, 0]);
    const result = resultOf(at100({ ...HALVES, options: { time_limit_s: 9 } }, { force, lasts_s: 14 }));
    expect(result.stop_reason).toBe("time-limit");
    expect(result.efforts.at(-1)).toMatchObject({ decides: false, counted: true, peak_N: expect.closeTo(800, 6) });
  });

  it("are no sudden loss", () => {
    expect(toldOf(at100(HALVES, { force: repeated(6, 60), lasts_s: 19 }))).not.toContain("sudden-loss");
  });

  function repeatedCorners(count: number): [number, number][] {
    return Array.from({ length: count }, (_, index): [number, number][] => {
      const at_s = 1 + 3 * index;
      return [
        [at_s + 0.3, 800],
        [at_s + 1.2, 800],
        [at_s + 1.5, 300],
        [at_s + 1.8, 1080],
        [at_s + 2.7, 1080],
        [at_s + 3, 60],
      ];
    }).flat();
  }
  const shifted = (points: [number, number][], by_s: number) =>
    points.map(([at_s, force_N]) => [at_s + by_s, force_N] as const);
});
