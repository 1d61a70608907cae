/** Best and floor of the effort styles: what may raise them, what confirms them, from when they stand. */
import { describe, expect, it } from "vitest";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import { at100, effortsOf, every3s, halfSines, plateaus, type SetupChanges } from "./run.ts";

const having = (changes: SetupChanges, peaks: readonly number[]) => {
  const ran = at100(changes, { force: every3s(peaks), lasts_s: 1 + 3 * peaks.length });
  return { ...viewOf(ran.state), ran };
};

describe("best of efforts", () => {
  it.each([
    ["at 1.10 x the second highest it stands", [1000, 1100], 1100],
    ["above it is held down to that", [1000, 1101], 1100],
    ["in whichever order", [1300, 1000], 1100],
    ["a third peak may confirm the first", [1300, 1000, 1250], 1300],
    ["of three the two highest count", [900, 1000, 980], 1000],
  ])("continuous: %s", (_, peaks, expected_N) => {
    for (const style of ["continuous", "rest-pause"] as const) {
      const { best_N, floor_N } = having({ style }, peaks);
      expect(best_N, style).toBeCloseTo(expected_N, 6);
      expect(floor_N, style).toBeCloseTo(0.6 * expected_N, 6);
    }
  });

  it("eccentric-only: the highest peak stands as it is", () => {
    expect(having({ style: "eccentric-only" }, [1300, 1000]).best_N).toBeCloseTo(1300, 6);
  });

  it("is not known before a second effort confirms it, and never falls", () => {
    expect(having({ style: "continuous" }, [1300])).toMatchObject({ best_N: null, floor_N: null });
    let best_N = 0;
    let floor_N = 0;
    const ran = [400, 1500, 1000, 1200, 1250, 900, 1300];
    for (let count = 1; count <= ran.length; count++) {
      const view = having({ style: "continuous" }, ran.slice(0, count));
      expect(view.best_N ?? 0).toBeGreaterThanOrEqual(best_N);
      expect(view.floor_N ?? 0).toBeGreaterThanOrEqual(floor_N);
      best_N = view.best_N ?? best_N;
      floor_N = view.floor_N ?? floor_N;
    }
    expect(best_N).toBeCloseTo(1430, 6);
  });

  it.each([
    [1000, 1100, false],
    [1000, 1101, true],
  ])("says that it was capped: %i then %i N", (first_N, second_N, unconfirmed) => {
    const { result } = at100({ style: "continuous" }, { force: every3s([first_N, second_N]), lasts_s: 30 });
    expect(result?.best_unconfirmed).toBe(unconfirmed);
  });

  // The median of what went before is 2 s: brief is under 1.2 s. Onset to release of a plateau is a little less.
  it.each([
    [1.15, true],
    [1.25, false],
  ])("an effort of %f s is brief: %s, and a brief one never raises best", (lasts_s, brief) => {
    const force = plateaus([
      [1, 2, 1000],
      [4, 2, 1000],
      [7, lasts_s, 1090],
      [10, lasts_s, 1090],
    ]);
    const ran = at100({ style: "continuous" }, { force, lasts_s: 12 });
    expect(effortsOf(ran)[2]).toMatchObject({ brief, counted: true, below_floor: false });
    expect(viewOf(ran.state).best_N).toBeCloseTo(brief ? 1000 : 1090, 6);
  });

  it("a brief effort in second place holds a lone peak down to 1.10 times its own, and the floor stands", () => {
    const force = plateaus([
      [1, 2, 1900],
      [4, 0.8, 900],
      [7, 2, 1000],
      [10, 2, 1000],
      [13, 2, 1000],
    ]);
    const ran = at100({ style: "continuous" }, { force, lasts_s: 15.2 });
    expect(effortsOf(ran).map((effort) => effort.below_floor)).toEqual([null, false, false, false, false]);
    expect(effortsOf(ran)[1]).toMatchObject({ brief: true, floor_N: expect.closeTo(0.6 * 990, 6) });
    expect(effortsOf(ran)[2]?.floor_N).toBeCloseTo(660, 6);
    expect(viewOf(ran.state).best_N).toBeCloseTo(1100, 6);
  });

  it("is smoothed over 0.2 s: a jerk of one reading less does not make it", () => {
    const jerk = (at_s: number) => (at_s >= 5 && at_s < 5.1 ? 1900 : every3s([1000, 1000])(at_s));
    const ran = at100({ style: "continuous" }, { force: jerk, lasts_s: 7 });
    expect(viewOf(ran.state).best_N).toBeCloseTo(1000, 6);
  });

  it("takes only windows whose spread is within 15 % of their mean", () => {
    // Two steps of 0.15 s each, 1000 and 1200 N: every window that spans them is spread by more than 15 %.
    const steps = (at_s: number) => {
      const into_s = at_s % 3;
      if (into_s < 0.5 || into_s > 2.3) return 0;
      return into_s > 1 && into_s < 1.18 ? 1300 : 1000;
    };
    const ran = at100({ style: "continuous" }, { force: steps, lasts_s: 6 });
    for (const effort of effortsOf(ran)) expect(effort.peak_N).toBeCloseTo(1000, 6);
    const within = (at_s: number) => (steps(at_s) === 1300 ? 1100 : steps(at_s));
    expect(effortsOf(at100({ style: "continuous" }, { force: within, lasts_s: 6 }))[0]?.peak_N).toBeGreaterThan(1080);
  });
});

describe("the first 0.3 s of an eccentric effort", () => {
  // A catch of 1500 N over the first 0.45 s holds a whole smoothing window inside the first 0.3 s and none after 0.5 s.
  const caught = (catch_s: number) => (at_s: number) => {
    const into_s = (at_s + 2) % 3;
    if (at_s < 1 || into_s > 2) return 0;
    return into_s < catch_s ? 1500 : 1000;
  };

  it.each([
    ["eccentric by the board", "continuous", "eccentric" as const],
    ["eccentric by the style", "eccentric-only", null],
  ] as const)("never raises best: %s", (_, style, action) => {
    const ran = at100({ style }, { force: caught(0.45), action: () => action, lasts_s: 6.5 });
    for (const effort of effortsOf(ran)) expect(effort.peak_N).toBeCloseTo(1000, 6);
    const longer = at100({ style }, { force: caught(0.55), action: () => action, lasts_s: 6.5 });
    for (const effort of effortsOf(longer)) expect(effort.peak_N).toBeCloseTo(1500, 6);
  });

  it.each(["eccentric", null] as const)(
    "judges by what is held after the catch, not by the fall from it: %s",
    (action) => {
      // Caught at 1600 N, 500 N for half a second, then 1000 N: above the floor of 600 N every time.
      const force = (at_s: number) => {
        const into_s = (at_s + 3) % 4;
        if (at_s < 1 || into_s > 3) return 0;
        return into_s < 0.3 ? 1600 : into_s < 1 ? 500 : 1000;
      };
      const ran = at100({ style: "eccentric-only" }, { force, action: () => action, lasts_s: 16.5 });
      expect(ran.result).toBeNull();
      expect(effortsOf(ran).map((effort) => [Math.round(effort.peak_N), effort.below_floor])).toEqual([
        [1000, null],
        [1000, false],
        [1000, false],
        [1000, false],
      ]);
    },
  );

  it("does where the effort is concentric", () => {
    const ran = at100({ style: "continuous" }, { force: caught(0.45), action: () => "concentric", lasts_s: 6.5 });
    for (const effort of effortsOf(ran)) expect(effort.peak_N).toBeCloseTo(1500, 6);
  });

  it("an effort that is over by then raises nothing", () => {
    const force = plateaus([
      [1, 0.45, 900],
      [3, 0.45, 900],
      [5, 2, 500],
      [8, 2, 500],
    ]);
    const ran = at100({ style: "eccentric-only" }, { force, lasts_s: 10.2 });
    expect(viewOf(ran.state).best_N).toBeCloseTo(500, 6);
  });
});

describe("the floor of efforts", () => {
  it("stands from the second counted effort on", () => {
    const ran = at100({ style: "continuous" }, { force: every3s([1000, 1000, 1000]), lasts_s: 9.5 });
    const floors = effortsOf(ran).map((effort) => effort.floor_N);
    expect(floors[0]).toBeNull();
    for (const floor_N of floors.slice(1)) expect(floor_N).toBeCloseTo(600, 6);
  });

  it("so the first effort is never below it, and the second only against the first", () => {
    const efforts = effortsOf(at100({ style: "continuous" }, { force: every3s([500, 1000, 1000, 1000]), lasts_s: 13 }));
    expect(efforts.map((effort) => effort.below_floor)).toEqual([null, false, false, false]);
    const weaker = at100({ style: "eccentric-only" }, { force: every3s([1000, 500]), lasts_s: 8 });
    expect(weaker.result).toMatchObject({ stop_reason: "effort-below-floor" });
  });

  it("stands from the beginning where a best was tested, and rises only with a confirmed one", () => {
    const options = { tested_best_force_N: 500 };
    const changes = { style: "continuous", options } as const;
    expect(viewOf(at100(changes, { force: every3s([]), lasts_s: 1 }).state).phase).toBe("armed");
    expect(viewOf(at100(changes, { force: every3s([400]), lasts_s: 1.5 }).state).floor_N).toBeCloseTo(300, 9);
    expect(having(changes, [1900]).floor_N).toBeCloseTo(300, 9);
    expect(having(changes, [1900, 1000]).floor_N).toBeCloseTo(660, 6);
    expect(having(changes, [1900, 1000, 1000]).ran.result).toBeNull();
  });

  it("a tested best above the set's own keeps the floor and leaves best alone", () => {
    const view = having({ style: "continuous", options: { tested_best_force_N: 1500 } }, [1000, 1000]);
    expect(view.floor_N).toBeCloseTo(900, 9);
    expect(view.best_N).toBeCloseTo(1000, 6);
    expect(view.reserve).toBeCloseTo((1000 - 900) / (1500 - 900), 6);
  });

  it.each([
    ["today", 1500, 900],
    ["today", 800, 600],
    ["today", null, 600],
    ["set", 1500, 600],
  ] as const)("best from %s, today's best %s N: floor %f N", (best_from, today_best_force_N, floor_N) => {
    const view = having({ style: "continuous", today_best_force_N, options: { best_from } }, [1000, 1000]);
    expect(view.floor_N).toBeCloseTo(floor_N, 6);
  });

  it("is best x (1 - threshold) over the whole range", () => {
    for (const fatigue_threshold of [0.1, 0.25, 0.4, 0.6, 0.75]) {
      expect(having({ style: "continuous", fatigue_threshold }, [1000, 1000]).floor_N).toBeCloseTo(
        1000 * (1 - fatigue_threshold),
        6,
      );
    }
  });

  it("does not exist on a stack of weights: efforts are counted and timed", () => {
    const ran = at100(
      { style: "continuous", resistance: "stack", fatigue_threshold: null },
      { force: every3s([500, 500, 200, 100]), lasts_s: 30 },
    );
    expect(ran.result).toMatchObject({ stop_reason: "rest-limit", floor_N: null, reached_threshold: false });
    expect(effortsOf(ran)).toHaveLength(4);
    for (const effort of effortsOf(ran))
      expect(effort).toMatchObject({ floor_N: null, below_floor: null, counted: true });
    expect(
      viewOf(at100({ style: "continuous", fatigue_threshold: null }, { force: every3s([500, 500]), lasts_s: 7 }).state),
    ).toMatchObject({ floor_N: null, reserve: null });
  });
});

describe("muscle actions", () => {
  // Up for 1 s at 800 N, down for 1 s at 1080 N, without letting go; the board says which is which.
  const both = (at_s: number) => (at_s < 1 ? 0 : (at_s - 1) % 2 < 1 ? 800 : 1080);
  const action = (at_s: number) => ((at_s + 1) % 2 < 1 ? "concentric" : "eccentric");

  it("known: concentric efforts decide a continuous set, and best is never fused", () => {
    const ran = at100({ style: "continuous" }, { force: both, action, lasts_s: 8.5 });
    expect(viewOf(ran.state).best_N).toBeCloseTo(800, 6);
    expect(viewOf(ran.state).floor_N).toBeCloseTo(480, 6);
    expect(
      effortsOf(ran)
        .map((effort) => [effort.muscle_action, effort.decides, effort.counted])
        .slice(0, 4),
    ).toEqual([
      ["concentric", true, true],
      ["eccentric", false, true],
      ["concentric", true, true],
      ["eccentric", false, true],
    ]);
  });

  it("known: eccentric efforts decide an eccentric-only set", () => {
    const ran = at100({ style: "eccentric-only" }, { force: both, action, lasts_s: 8.5 });
    expect(viewOf(ran.state).best_N).toBeCloseTo(1080, 6);
  });

  it("each has a best of its own in the result, by the style's rule", () => {
    const options = { effort_limit: 3 };
    expect(at100({ style: "continuous", options }, { force: both, action, lasts_s: 20 }).result).toMatchObject({
      decided_by: "concentric",
      best_N: expect.closeTo(800, 6),
      concentric_best_N: expect.closeTo(800, 6),
      eccentric_best_N: expect.closeTo(1080, 6),
    });
    const weaker = at100(
      { style: "eccentric-only" },
      {
        force: halfSines([
          [1, 3, 1000],
          [6, 3, 800],
          [12, 3, 500],
        ]),
        action: () => "eccentric",
        lasts_s: 30,
      },
    );
    expect(weaker.result?.eccentric_best_N).toBe(weaker.result?.best_N);
  });

  it("a weak effort of the other action never ends the set", () => {
    const down = (at_s: number) => (action(at_s) === "eccentric" && at_s > 5 ? 100 : both(at_s));
    expect(at100({ style: "continuous" }, { force: down, action, lasts_s: 14 }).state.is).toBe("exerting");
    const up = (at_s: number) => (action(at_s) === "concentric" && at_s > 5 ? 400 : both(at_s));
    expect(at100({ style: "continuous" }, { force: up, action, lasts_s: 14 }).result?.stop_reason).toBe(
      "effort-below-floor",
    );
  });

  it("not known: every effort decides", () => {
    const ran = at100({ style: "continuous" }, { force: every3s([1000, 1000]), lasts_s: 30 });
    expect(ran.result).toMatchObject({ decided_by: "any", concentric_best_N: null, eccentric_best_N: null });
  });
});
