/** Gaps in device time, sudden loss, ceiling, nearing the floor. */
import { describe, expect, it } from "vitest";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import { lostAfter_s } from "../../../recorder/set-engine/setup.ts";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import {
  at100,
  corners,
  halfSines,
  plateaus,
  reading,
  readingsOf,
  resultOf,
  run,
  type SetupChanges,
  setupOf,
  type Trace,
  toldOf,
} from "./run.ts";

const pulled = (...points: readonly (readonly [number, number])[]) =>
  corners([0.99, 0], [1, points[0]?.[1] ?? 0], ...points);

describe("a gap of device time", () => {
  it.each([
    [80, 1],
    [10, 1],
    [5, 1],
    [4, 1.25],
  ])("at %f Hz ends a set at %f s", (rate_Hz, limit_s) => {
    expect(lostAfter_s(rate_Hz)).toBe(limit_s);
  });

  /** Readings every 10 ms up to 5 s, then one after a gap, then every 10 ms again. */
  function withGap(gap_us: number, force: Trace["force"]): EngineInput[] {
    const before = readingsOf({ force, lasts_s: 5.005, rate_Hz: 100 });
    const later = readingsOf({ force, lasts_s: 8, rate_Hz: 100 }).filter((input) => input.at_us > 5_000_000 + gap_us);
    const at_us = 5_000_000 + gap_us;
    return [...before, reading(at_us, force(at_us / 1e6)), ...later];
  }

  it.each(["hold", "continuous"] as const)("of 1 s ends it as sensor-fault at the last reading: %s", (style) => {
    const setup = setupOf({ style, reading_rate_Hz: 100 });
    const force =
      style === "hold"
        ? pulled([1, 800])
        : plateaus([
            [1, 2, 800],
            [4, 3, 800],
          ]);
    const kept = run(setup, withGap(999_999, force));
    expect(kept.result).toBeNull();
    const lost = resultOf(run(setup, withGap(1_000_000, force)));
    expect(lost).toMatchObject({ stop_reason: "sensor-fault", decided_us: 5_000_000 });
    expect(lost.duration_s).toBeCloseTo(5 - lost.onset_us / 1e6, 9);
  });

  it("the host's silence says the same sooner", () => {
    const setup = setupOf({ reading_rate_Hz: 100 });
    const readings = readingsOf({ force: pulled([1, 800]), lasts_s: 5.005, rate_Hz: 100 });
    const silent = run(setup, [...readings, { kind: "silence", at_us: 6_400_000 }]);
    const gap = run(setup, [...readings, reading(6_400_000, 800)]);
    expect(resultOf(silent)).toEqual(resultOf(gap));
  });

  it("is bridged to 0.3 s: the impulse runs straight across, longer ones add nothing", () => {
    const force = pulled([1, 800]);
    const impulse = (gap_us: number) =>
      resultOf(
        run(setupOf({ reading_rate_Hz: 100 }), [...withGap(gap_us, force), { kind: "end", at_us: 8e6, because: null }]),
      );
    const whole = impulse(10_000);
    expect(impulse(300_000).impulse_N_s).toBeCloseTo(whole.impulse_N_s, 6);
    expect(impulse(300_001).impulse_N_s).toBeCloseTo(whole.impulse_N_s - 800 * 0.300001, 6);
    expect(impulse(300_001).duration_s).toBeCloseTo(whole.duration_s, 6);
  });

  it.each([0.3, 0.5, 0.9])("of %f s stands the grace of a hold still", (gap_s) => {
    const force = pulled([1, 1000], [5, 1000], [5.01, 500], [60, 500]);
    const steady = resultOf(at100({}, { force, lasts_s: 12 }));
    const gapped = resultOf(at100({}, { force, lasts_s: 12, lost: [[6.005, 5.995 + gap_s]] }));
    const later_s = (gapped.decided_us - steady.decided_us) / 1e6;
    // Over a break the trailing second must fill again before anything is judged.
    const filling_s = gap_s > 0.3 ? 1 : 0;
    expect(later_s).toBeGreaterThanOrEqual(gap_s + filling_s - 0.015);
    expect(later_s).toBeLessThanOrEqual(gap_s + filling_s + 0.025);
  });

  it.each([
    [45.8, "early in the grace"],
    [49.2, "late in the grace"],
  ])("inside a long grace, at %f s, leaves a final force: %s", (lost_s) => {
    // Under 600 N from 45.5 s on by 10 N/s; whatever stretch of the grace is whole lies between 600 and 530 N.
    const force = pulled([1, 1000], [5, 1000], [65, 400]);
    const result = resultOf(at100({ options: { grace_s: 5 } }, { force, lasts_s: 60, lost: [[lost_s, lost_s + 0.5]] }));
    expect(result.stop_reason).toBe("hold-below-floor");
    expect(result.final_N).toBeGreaterThan(525);
    expect(result.final_N).toBeLessThan(600);
  });

  it("of 0.3 s stands the grace of letting go still as well", () => {
    const force = pulled([1, 1000], [5, 1000], [5.01, 0], [60, 0]);
    const steady = resultOf(at100({}, { force, lasts_s: 12 }));
    const gapped = resultOf(at100({}, { force, lasts_s: 12, lost: [[5.505, 5.795]] }));
    expect(gapped.stop_reason).toBe("let-go");
    expect((gapped.decided_us - steady.decided_us) / 1e6).toBeCloseTo(0.3, 1);
  });

  it("jitter of 20 % is none", () => {
    const force = pulled([1, 1000], [5, 1000], [5.01, 500], [60, 500]);
    const steady = resultOf(at100({}, { force, lasts_s: 12 }));
    const jittered = resultOf(at100({}, { force, lasts_s: 12, jitter: 0.2 }));
    expect(Math.abs(jittered.decided_us - steady.decided_us)).toBeLessThan(30_000);
  });

  it("raises no best and makes no peak across a break", () => {
    // 2000 N on both sides of a break of 0.5 s, 0.1 s each: no window holds them.
    const force = (at_s: number) =>
      at_s > 4.9 && at_s < 5.6
        ? 1900
        : plateaus([
            [1, 2, 1000],
            [4, 3, 1000],
          ])(at_s);
    const ran = at100({ style: "continuous" }, { force, lasts_s: 8, lost: [[5.005, 5.5]] });
    expect(viewOf(ran.state).best_N).toBeCloseTo(1000, 6);
  });

  it("stands hanging still", () => {
    const force = corners(
      [1, 0],
      [1.1, 990],
      [2, 1000],
      [2.1, 0],
      [4, 0],
      [4.1, 990],
      [5, 1000],
      [5.1, 0],
      [7, 0],
      [7.1, 990],
      [8, 1000],
      [8.1, 500],
      [60, 500],
    );
    const steady = resultOf(at100({ style: "continuous" }, { force, lasts_s: 30 }));
    const gapped = resultOf(at100({ style: "continuous" }, { force, lasts_s: 30, lost: [[10.005, 10.295]] }));
    expect((gapped.decided_us - steady.decided_us) / 1e6).toBeCloseTo(0.3, 6);
  });

  it("while armed, long or short, begins nothing and ends nothing", () => {
    const ran = at100(
      {},
      {
        force: () => 0,
        lasts_s: 10,
        lost: [
          [2, 2.2],
          [4, 4.6],
          [6, 8],
        ],
      },
    );
    expect(ran.state.is).toBe("armed");
    expect(ran.told).toEqual([]);
  });

  it("across the onset begins the effort where readings are back", () => {
    const force = plateaus([[2.2, 3, 800]]);
    const ran = at100({ style: "continuous" }, { force, lasts_s: 4, lost: [[2, 2.8]] });
    const inputs: EngineInput = { kind: "end", at_us: 4_000_000, because: null };
    const setup = setupOf({ style: "continuous", reading_rate_Hz: 100 });
    expect(ran.state.is).toBe("exerting");
    const result = resultOf(run(setup, [...readingsOf({ force, lasts_s: 4, rate_Hz: 100, lost: [[2, 2.8]] }), inputs]));
    expect(result.onset_us).toBe(2_800_000);
  });

  it("in a rest leaves the rest running", () => {
    const force = plateaus([
      [1, 2, 1000],
      [4, 2, 1000],
    ]);
    const result = resultOf(at100({ style: "continuous" }, { force, lasts_s: 30, lost: [[8, 8.9]] }));
    expect(result.stop_reason).toBe("rest-limit");
    expect(result.decided_us / 1e6).toBeCloseTo(13.98, 1);
  });

  it("lost counts in device time at the measured rate: five periods at 4 Hz", () => {
    const setup = setupOf({ style: "eccentric-only", reading_rate_Hz: 4 });
    const slow = (gap_us: number) =>
      run(
        setup,
        [0, 250_000, 500_000, 750_000, 1_000_000, 1_250_000]
          .map((at_us) => reading(at_us, at_us < 250_000 ? 0 : 500))
          .concat(reading(1_250_000 + gap_us, 500)),
      );
    expect(slow(1_249_999).state.is).toBe("exerting");
    expect(slow(1_250_000).state.is).not.toBe("exerting");
  });
});

describe("faults in a running set", () => {
  const force = pulled([1, 800]);
  it.each(["overload", "sensor-fault"] as const)("%s ends it at the last reading", (fault) => {
    for (const style of ["hold", "continuous"] as const) {
      const readings = readingsOf({
        force:
          style === "hold"
            ? force
            : plateaus([
                [1, 2, 800],
                [4, 4, 800],
              ]),
        lasts_s: 6,
        rate_Hz: 100,
      });
      const result = resultOf(
        run(setupOf({ style, reading_rate_Hz: 100 }), [...readings, { kind: "fault", at_us: 6_010_000, fault }]),
      );
      expect(result).toMatchObject({
        stop_reason: fault,
        ended_because: null,
        decided_us: 5_990_000,
        reached_threshold: false,
      });
    }
  });

  it("interrupted keeps what ran as far as it got", () => {
    const readings = readingsOf({ force, lasts_s: 6, rate_Hz: 100 });
    const result = resultOf(
      run(setupOf({ reading_rate_Hz: 100 }), [...readings, { kind: "interrupted", at_us: 90_000_000 }]),
    );
    expect(result).toMatchObject({ stop_reason: "interrupted", decided_us: 5_990_000 });
    expect(result.best_N).toBeCloseTo(800, 6);
  });
});

describe("a sudden loss", () => {
  const fallsTo = (force_N: number, within_s: number) =>
    pulled([1, 1000], [6, 1000], [6 + within_s, force_N], [7.5, force_N], [7.6, 1000], [20, 1000]);
  const told = (changes: SetupChanges, force: Trace["force"]) => toldOf(at100(changes, { force, lasts_s: 10 }));

  it.each([
    [490, 0.25, true],
    [510, 0.25, false],
    [490, 0.5, false],
    [490, 1.0, false],
  ])("of a hold on a driven station: to %i N within %f s: %s", (force_N, within_s, sudden) => {
    expect(told({}, fallsTo(force_N, within_s)).includes("sudden-loss")).toBe(sudden);
  });

  it("is told once, at once", () => {
    const ran = at100({}, { force: fallsTo(400, 0.1), lasts_s: 6.3 });
    expect(toldOf(ran).filter((name) => name === "sudden-loss")).toHaveLength(1);
    expect(ran.told.find(({ effect }) => effect.do === "sudden-loss")?.at_s).toBeLessThan(6.11);
  });

  it("is no matter where the trainee sets the speed", () => {
    for (const resistance of ["locked", "damped", "elastic", "stack"] as const) {
      expect(told({ resistance }, fallsTo(300, 0.1))).not.toContain("sudden-loss");
    }
  });

  const efforts = (third: Trace["force"]) => (at_s: number) =>
    at_s < 9
      ? plateaus([
          [1, 3, 1000],
          [5, 3, 1000],
        ])(at_s)
      : third(at_s);
  it("of an effort well before efforts of this set end; an ordinary end is none", () => {
    const gave_way = efforts(corners([9, 0], [9.1, 1000], [9.8, 1000], [9.9, 300], [12, 300], [12.1, 0]));
    const ordinary = efforts(plateaus([[9, 3, 1000]]));
    for (const changes of [{ style: "continuous" }, { style: "eccentric-only", resistance: "locked" }] as const) {
      expect(told(changes, gave_way), changes.style).toContain("sudden-loss");
      expect(told(changes, ordinary), changes.style).not.toContain("sudden-loss");
    }
    expect(told({ style: "continuous", resistance: "locked" }, gave_way)).not.toContain("sudden-loss");
  });
});

describe("the ceiling", () => {
  it.each(["hold", "continuous"] as const)("is told above it, and again at 3 %% under it: %s", (style) => {
    const changes = { style, options: { ceiling_force_N: 500 } };
    const force = pulled([1, 400], [3, 400], [4, 500], [5, 500.1], [6, 490], [7, 486], [8, 484], [9, 499]);
    const ran = at100(changes, { force, lasts_s: 9 });
    const ceilings = ran.told.flatMap(({ at_s, effect }) => (effect.do === "ceiling" ? [[at_s, effect.above]] : []));
    expect(ceilings).toHaveLength(2);
    expect(ceilings[0]?.[1]).toBe(true);
    expect(ceilings[0]?.[0]).toBeGreaterThan(4);
    expect(ceilings[0]?.[0]).toBeLessThan(5.01);
    expect(ceilings[1]?.[1]).toBe(false);
    expect(ceilings[1]?.[0]).toBeGreaterThan(7);
    expect(ceilings[1]?.[0]).toBeLessThan(8);
  });

  it("is not told where none was given", () => {
    expect(toldOf(at100({}, { force: pulled([1, 900]), lasts_s: 5 }))).not.toContain("ceiling");
  });
});

describe("nearing the floor in efforts", () => {
  // Floor 600 N of 1000 N: a quarter of the reserve is left at 700 N.
  it.each([
    [699, true],
    [701, false],
  ])("a peak of %i N: %s", (peak_N, near) => {
    const force = plateaus([
      [1, 2, 1000],
      [4, 2, 1000],
      [7, 2, peak_N],
    ]);
    const ran = at100({ style: "continuous" }, { force, lasts_s: 10 });
    expect(toldOf(ran).includes("nearing")).toBe(near);
    expect(viewOf(ran.state).reserve).toBeCloseTo((peak_N - 600) / 400, 6);
  });

  it("goes off when the reserve recovers, before that effort is over", () => {
    const force = plateaus([
      [1, 2, 1000],
      [4, 2, 1000],
      [7, 2, 650],
      [10, 2, 1000],
    ]);
    const ran = at100({ style: "continuous" }, { force, lasts_s: 13 });
    const seen = ran.told.flatMap(({ at_s, effect }) => (effect.do === "nearing" ? [[effect.on, at_s]] : []));
    expect(seen.map(([on]) => on)).toEqual([true, false]);
    expect(seen[1]?.[1]).toBeLessThan(10.5);
  });

  it("never goes on while the first effort rises towards a tested best", () => {
    const changes = { style: "continuous", options: { tested_best_force_N: 1000 } } as const;
    expect(toldOf(at100(changes, { force: halfSines([[1, 4, 1000]]), lasts_s: 5.1 }))).not.toContain("nearing");
  });
});
