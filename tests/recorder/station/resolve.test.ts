import { describe, expect, it } from "vitest";
import type { BeginArgs } from "../../../protocol/requests/verbs.ts";
import { RESISTANCES, type Resistance, STYLES, type Style } from "../../../protocol/vocabulary.ts";
import type { History } from "../../../recorder/ports.ts";
import { resolve, type SensorFacts } from "../../../recorder/station/resolve.ts";
import { KNOWN, NO_HISTORY, stationConfiguration } from "./bench.ts";

type Asked = Omit<BeginArgs, "station">;
const SENSOR: SensorFacts = { noise_N: 0.05, reading_rate_Hz: 80, knows_muscle_action: true };

interface Given {
  readonly station?: Parameters<typeof stationConfiguration>[0];
  readonly sensor?: Partial<SensorFacts>;
  readonly history?: Partial<History>;
}

const made = (asked: Asked, given: Given = {}) =>
  resolve(asked, stationConfiguration(given.station), { ...SENSOR, ...given.sensor }, { ...KNOWN, ...given.history });

function good(asked: Asked, given?: Given) {
  const outcome = made(asked, given);
  if (!outcome.ok) throw new Error(outcome.error.message);
  return outcome.resolved;
}

function refused(asked: Asked, given?: Given) {
  const outcome = made(asked, given);
  if (outcome.ok) throw new Error("it was resolved");
  return outcome.error;
}

describe("what each resistance allows", () => {
  /** Force loss is loss of strength only where the machine does not set the force. */
  const MAY: Record<Resistance, readonly Style[]> = {
    locked: STYLES,
    driven: STYLES,
    damped: STYLES,
    elastic: ["hold"],
    stack: [],
  };

  it.each(RESISTANCES.flatMap((resistance) => STYLES.map((style) => [resistance, style] as const)))(
    "%s, %s",
    (resistance, style) => {
      const given = { station: { resistance } };
      if (MAY[resistance].includes(style)) {
        expect(good({ style, fatigue_threshold: 0.3 }, given).setup.fatigue_threshold).toBe(0.3);
        expect(good({ style }, given).setup.fatigue_threshold).toBe(0.4);
      } else {
        expect(refused({ style, fatigue_threshold: 0.3 }, given).code).toBe("not-suited");
        // Counted and timed only: nothing is compared.
        expect(good({ style }, given).setup.fatigue_threshold).toBeNull();
      }
    },
  );

  it("on a stack the refusal says what would do", () => {
    const { hint } = refused({ style: "continuous", fatigue_threshold: 0.4 }, { station: { resistance: "stack" } });
    expect(hint).toMatch(/blocked lever before and after/);
    expect(hint).toMatch(/\(1 - threshold\) of the tested best/);
  });

  it("eccentric-only needs the muscle action, or a return stroke that is unloaded", () => {
    const blind = { sensor: { knows_muscle_action: false } };
    expect(refused({ style: "eccentric-only" }, blind).code).toBe("not-suited");
    expect(good({ style: "eccentric-only" }, { ...blind, station: { return_stroke: "unloaded" } })).toBeDefined();
    expect(good({ style: "eccentric-only" })).toBeDefined();
    expect(good({ style: "continuous" }, blind)).toBeDefined();
  });
});

describe("the reading rate", () => {
  it.each([
    ["hold", 8],
    ["eccentric-only", 20],
    ["rest-pause", 20],
    ["continuous", 40],
  ] as const)("%s needs %d readings a second", (style, slowest_Hz) => {
    expect(good({ style }, { sensor: { reading_rate_Hz: slowest_Hz } })).toBeDefined();
    const error = refused({ style }, { sensor: { reading_rate_Hz: slowest_Hz - 0.01 } });
    expect(error.code).toBe("rate-too-low");
    expect(error.message).toContain(String(slowest_Hz));
  });
});

describe("the threshold", () => {
  const warningsOf = (asked: Asked, given?: Given): readonly string[] => good(asked, given).warnings;

  it("comes from the request, then from the station", () => {
    expect(good({ fatigue_threshold: 0.33 }).setup.fatigue_threshold).toBe(0.33);
    expect(good({}).setup.fatigue_threshold).toBe(0.4);
    expect(good({}, { station: { fatigue_threshold_percent: 25 } }).setup.fatigue_threshold).toBe(0.25);
    expect(warningsOf({})).toEqual([]);
  });

  it("is at most 20 % without a record here, and the answer says why", () => {
    const fresh = { history: { sets_here: 0 } };
    const { setup, warnings } = good({ trainee: "otter-14" }, fresh);
    expect(setup.fatigue_threshold).toBe(0.2);
    expect(warnings).toEqual([expect.stringMatching(/otter-14 has no record here.*20 %.*40 %/)]);
    expect(warningsOf({}, fresh)[0]).toMatch(/^Nobody is named/);
    const shallow = { ...fresh, station: { fatigue_threshold_percent: 18 } };
    expect(good({ trainee: "otter-14" }, shallow).setup.fatigue_threshold).toBe(0.18);
    // Asked for is asked for.
    expect(good({ trainee: "otter-14", fatigue_threshold: 0.4 }, fresh).setup.fatigue_threshold).toBe(0.4);
  });

  it.each([
    [0.1, true],
    [0.1499, true],
    [0.15, false],
    [0.7, false],
    [0.7001, true],
    [0.75, true],
  ])("%f: a warning is %s", (fatigue_threshold, warned) => {
    expect(warningsOf({ fatigue_threshold }).length > 0).toBe(warned);
  });
});

describe("the options", () => {
  it.each([
    ["hold", { rest_limit_s: null, time_limit_s: 240 }],
    ["continuous", { rest_limit_s: 8, time_limit_s: 300 }],
    ["eccentric-only", { rest_limit_s: 45, time_limit_s: 900 }],
    ["rest-pause", { rest_limit_s: 40, time_limit_s: 900 }],
  ] as const)("limits of %s", (style, limits) => {
    expect(good({ style }).setup.options).toEqual({
      grace_s: 1,
      effort_limit: null,
      below_floor_to_stop: 1,
      // 1 % of a capacity of 5000 N is above 20 N and 8 times the noise.
      onset_force_N: 50,
      efforts_per_cluster: 2,
      tested_best_force_N: null,
      best_from: "set",
      ceiling_force_N: null,
      ...limits,
    });
  });

  it("all of them can be asked for", () => {
    const options = {
      grace_s: 0.5,
      rest_limit_s: 12,
      time_limit_s: 100,
      effort_limit: 8,
      below_floor_to_stop: 3,
      onset_force_N: 33,
      efforts_per_cluster: 4,
      tested_best_force_N: 900,
      best_from: "today",
      ceiling_force_N: 500,
    } as const;
    expect(good({ options, style: "rest-pause" }).setup.options).toEqual(options);
  });

  it.each([
    [{ cell_capacity_N: 1000 }, 0.05, 20],
    [{ cell_capacity_N: 1000, working_force_N: 500 }, 4, 32],
    [{ cell_capacity_N: 3000 }, 0.05, 30],
    [{ idle_stroke_N: 45 }, 0.05, 90],
  ])(
    "the onset is the largest of 20 N, 8 x noise, 1 %% of capacity and 2 x idle stroke: %j, noise %f N",
    (station, noise_N, onset_N) => {
      const given = { station: { working_force_N: 900, ...station }, sensor: { noise_N } };
      expect(good({}, given).setup.options.onset_force_N).toBe(onset_N);
    },
  );

  it("is rounded before it is used, so that the set is judged by what it names", () => {
    const { options, fatigue_threshold } = good(
      { fatigue_threshold: 0.333333, options: { tested_best_force_N: 1234.5678, grace_s: 0.33333 } },
      { sensor: { noise_N: 12.3456789 } },
    ).setup;
    expect(options).toMatchObject({ onset_force_N: 98.77, tested_best_force_N: 1234.57, grace_s: 0.333 });
    expect(fatigue_threshold).toBe(0.3333);
  });

  it.each([
    ["continuous", 0.25, 2],
    ["continuous", 0.2501, 1],
    ["hold", 0.2, 1],
    ["rest-pause", 0.2, 1],
    ["eccentric-only", 0.2, 1],
  ] as const)("below_floor_to_stop of %s at %f: %d", (style, fatigue_threshold, expected) => {
    expect(good({ style, fatigue_threshold }).setup.options.below_floor_to_stop).toBe(expected);
  });

  it("an eccentric set always ends at the first effort below the floor, and says so", () => {
    const { setup, warnings } = good({ style: "eccentric-only", options: { below_floor_to_stop: 3 } });
    expect(setup.options.below_floor_to_stop).toBe(1);
    expect(warnings).toEqual([expect.stringMatching(/first effort below the floor/)]);
    expect(good({ style: "continuous", options: { below_floor_to_stop: 3 } }).setup.options.below_floor_to_stop).toBe(
      3,
    );
  });

  it.each([
    [0, undefined, 10],
    [1, undefined, 10],
    [2, undefined, null],
    [0, 6, 6],
    [1, 40, 10],
    [2, 40, 40],
  ])("after %d eccentric sets here, asked for %s: effort limit %s", (eccentric_sets_here, effort_limit, expected) => {
    const options = effort_limit === undefined ? {} : { effort_limit };
    const { setup, warnings } = good({ style: "eccentric-only", options }, { history: { eccentric_sets_here } });
    expect(setup.options.effort_limit).toBe(expected);
    expect(warnings.some((warning) => /first two eccentric sets/.test(warning))).toBe(eccentric_sets_here < 2);
  });

  it("other styles are not limited by it", () => {
    expect(good({ style: "continuous" }, { history: NO_HISTORY }).setup.options.effort_limit).toBeNull();
  });

  it("a ceiling must lie above the onset", () => {
    expect(refused({ intent: "held", options: { ceiling_force_N: 50 } }).code).toBe("bad-request");
    expect(good({ intent: "held", options: { ceiling_force_N: 50.01 } }).setup).toMatchObject({ intent: "held" });
  });
});

it("what the record knows travels into the set", () => {
  const comparable = { best_force_N: 1500 } as NonNullable<History["comparable"]>;
  const { setup, exercise } = good({ exercise: "calf-press" }, { history: { comparable, today_best_force_N: 1600 } });
  expect(setup).toMatchObject({ comparable_best_force_N: 1500, today_best_force_N: 1600, cell_capacity_N: 5000 });
  expect(exercise).toBe("calf-press");
});
