/** What else ends a set of efforts: rest, time, their number, a request. */
import { describe, expect, it } from "vitest";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import {
  at100,
  corners,
  every3s,
  plateaus,
  readingsOf,
  resultOf,
  run,
  runTrace,
  setupOf,
  together,
  toldOf,
} from "./run.ts";

const CONTINUOUS = { style: "continuous" } as const;
const end = (at_s: number, because: "pain" | null = null): EngineInput => ({ kind: "end", at_us: at_s * 1e6, because });

describe("rest", () => {
  it.each([
    ["continuous", 8],
    ["eccentric-only", 45],
    ["rest-pause", 40],
  ] as const)("%s: ends the set after %i s below the attempt level, and blinks at half", (style, limit_s) => {
    const ran = at100({ style }, { force: every3s([1000, 1000, 1000]), lasts_s: 70 });
    const result = resultOf(ran);
    expect(result.stop_reason).toBe("rest-limit");
    // The last effort falls through 300 N 30 ms before its end at 9 s.
    expect(Math.abs(result.decided_us / 1e6 - (8.98 + limit_s))).toBeLessThan(0.02);
    expect(ran.told.filter(({ effect }) => effect.do === "rest-half").map(({ at_s }) => at_s)).toEqual([
      expect.closeTo(8.98 + limit_s / 2, 1),
    ]);
    expect(result.duration_s).toBeCloseTo((result.efforts.at(-1)?.end_us ?? 0) / 1e6 - result.onset_us / 1e6, 9);
  });

  it("a push that reaches the attempt level ends it, one that does not leaves it", () => {
    const pushed = (push_N: number) =>
      resultOf(
        at100(
          { ...CONTINUOUS, options: { below_floor_to_stop: 5 } },
          {
            force: plateaus([
              [1, 2, 1000],
              [4, 2, 1000],
              [12, 0.6, push_N],
            ]),
            lasts_s: 40,
          },
        ),
      );
    expect(pushed(295).decided_us / 1e6).toBeCloseTo(13.98, 1);
    expect(pushed(305).decided_us / 1e6).toBeGreaterThan(20);
  });

  it("goes on while a handle is merely held, and the effort ends where the rest began", () => {
    const force = corners(
      [1, 0],
      [1.1, 1000],
      [3, 1000],
      [3.1, 100],
      [4, 100],
      [4.1, 1000],
      [6, 1000],
      [6.1, 100],
      [7, 100],
      [7.1, 1000],
      [9, 1000],
      [9.1, 100],
      [60, 100],
    );
    const result = resultOf(at100(CONTINUOUS, { force, lasts_s: 30 }));
    expect(result.stop_reason).toBe("rest-limit");
    expect(Math.abs(result.decided_us / 1e6 - 17.08)).toBeLessThan(0.03);
    expect(Math.abs((result.efforts.at(-1)?.end_us ?? 0) / 1e6 - 9.08)).toBeLessThan(0.02);
  });

  it("none where the options give none", () => {
    const ran = at100(
      { style: "rest-pause", options: { rest_limit_s: null } },
      { force: every3s([1000, 900]), lasts_s: 120 },
    );
    expect(ran.state.is).toBe("exerting");
    expect(toldOf(ran)).not.toContain("rest-half");
  });
});

describe("other limits", () => {
  it.each([
    ["continuous", 300],
    ["eccentric-only", 900],
    ["rest-pause", 900],
  ] as const)("%s lasts %i s at most", (style, limit_s) => {
    const efforts = (at_s: number) => (at_s >= 1 && at_s % 3 < 2 ? 1000 : 0);
    const result = resultOf(runTrace({ style }, { force: efforts, lasts_s: limit_s + 5, rate_Hz: 40 }));
    expect(result.stop_reason).toBe("time-limit");
    const lasted_s = (result.decided_us - result.onset_us) / 1e6;
    expect(lasted_s).toBeGreaterThanOrEqual(limit_s);
    expect(lasted_s).toBeLessThan(limit_s + 0.026);
  });

  it("a first effort that never ends meets the time limit too", () => {
    for (const peaks_per_repetition of [1, 2] as const) {
      const force = corners([1, 0], [1.1, 300], [60, 300]);
      const changes = { ...CONTINUOUS, peaks_per_repetition, options: { time_limit_s: 10 } };
      const result = resultOf(at100(changes, { force, lasts_s: 30 }));
      expect(result.stop_reason).toBe("time-limit");
      expect(result.efforts).toHaveLength(1);
    }
  });

  it("the effort limit ends the set with that many counted, touches aside", () => {
    const force = plateaus([
      [1, 2, 1000],
      [4, 2, 1000],
      [7, 0.5, 100],
      [10, 2, 1000],
      [13, 2, 1000],
    ]);
    const result = resultOf(at100({ style: "eccentric-only", options: { effort_limit: 3 } }, { force, lasts_s: 40 }));
    expect(result.stop_reason).toBe("effort-limit");
    expect(result.efforts.filter((effort) => effort.counted)).toHaveLength(3);
    expect(result.decided_us / 1e6).toBeCloseTo(12, 1);
  });

  it("below the floor goes before the effort limit", () => {
    const changes = { ...CONTINUOUS, options: { effort_limit: 3 } };
    expect(resultOf(at100(changes, { force: every3s([1000, 1000, 500]), lasts_s: 40 })).stop_reason).toBe(
      "effort-below-floor",
    );
  });

  it("on request, in an effort and between two", () => {
    const readings = readingsOf({ force: every3s([1000, 900]), lasts_s: 20, rate_Hz: 100 });
    const setup = setupOf({ ...CONTINUOUS, reading_rate_Hz: 100 });
    const asked = (at_s: number) => resultOf(run(setup, together(readings, end(at_s, "pain"))));
    expect(asked(5)).toMatchObject({ stop_reason: "on-request", ended_because: "pain", decided_us: 5_000_000 });
    expect(asked(5).duration_s).toBeCloseTo(5 - asked(5).onset_us / 1e6, 9);
    expect(asked(5).efforts).toHaveLength(2);
    expect(asked(6.5).duration_s).toBeCloseTo(
      (asked(6.5).efforts[1]?.end_us ?? 0) / 1e6 - asked(6.5).onset_us / 1e6,
      9,
    );
  });
});
