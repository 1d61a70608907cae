/** What a station publishes, and when. Every body is held to the published schemas by the bench itself. */
import { describe, expect, it } from "vitest";
import { setSchema } from "../../../protocol/messages/set.ts";
import type { Phase } from "../../../protocol/vocabulary.ts";
import { Bench, holdCurve, KNOWN, messageOf, readyBench, record, repetitions } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;
const CONTINUOUS = { style: "continuous", fatigue_threshold: 0.4 } as const;

/** A set from arming to long after its end. */
const wholeSet = (options: ConstructorParameters<typeof Bench>[0] = {}): Bench =>
  readyBench(options)
    .begin(CONTINUOUS)
    .pull(1.5, 0)
    .pull(24, repetitions(3, 1.5, 1000, 980, 950, 900, 850, 550))
    .pull(3, 0);

/** The contract's own list, in its own order. */
const SET_FIELDS =
  "set_id store set_seq revision station exercise exercise_label trainee side style intent warm_up set_of_day rested_s fatigue_threshold options tested_best_force_N started_at duration_s time_under_tension_s stop_reason ended_because reached_threshold cut_short best_force_N today_best_force_N floor_force_N final_force_N force_loss force_loss_today force_loss_uncertainty impulse_N_s mean_force_N mean_effort_force_N decline_per_s decline_per_effort concentric_best_force_N eccentric_best_force_N decided_by efforts resting_force_N resting_subtracted calibration_id expanded_uncertainty_N zero_shift_N quality engine void pain exertion note";
const ENVELOPE = "schema_version at clock_synced recorder boot simulated";
const EFFORT_FIELDS =
  "effort_number start_s duration_s peak_force_N valley_force_N mean_force_N impulse_N_s muscle_action floor_force_N below_floor counted brief";
const QUALITY_FIELDS =
  "readings readings_lost lines_rejected despiked saturated reading_rate_Hz noise_N best_unconfirmed warming_up";

describe("live", () => {
  it.each([
    [10, 0.1],
    [50, 0.02],
    [4, 0.25],
    // Ticks are 50 ms apart, and a second between two messages is the most: the rate gives way.
    [1, 0.9],
  ])("at %d Hz in every phase", (live_rate_Hz, every_s) => {
    const bench = wholeSet({ station: { live_rate_Hz } });
    const live = bench.published("live");
    const phases = new Set(live.map(({ body }) => body["phase"]));
    expect([...phases].sort()).toEqual(["armed", "finished", "idle", "resting", "working"]);
    const moments = live.map(({ at_s }) => at_s).filter((at_s) => at_s > 1);
    const gaps = moments.slice(1).map((at_s, index) => at_s - (moments[index] ?? 0));
    // A reading every 12.5 ms: a message waits for the next of them, the rate holds on average.
    expect(Math.max(...gaps)).toBeLessThan(every_s + 0.0126);
    expect((moments.at(-1) ?? 0) - (moments[0] ?? 0)).toBeCloseTo(every_s * (moments.length - 1), 0);
    expect(live.map(({ body }) => body["live_seq"])).toEqual(live.map((_, index) => index));
    for (const { body } of live) if (body["force_N"] !== null) expect(body["ttl_s"]).toBeCloseTo(3 / live_rate_Hz, 3);
  });

  it.each<readonly [Phase | "closed" | "uncalibrated", () => Bench]>([
    ["closed", () => new Bench()],
    ["uncalibrated", () => new Bench({ record: null }).open()],
    ["idle", () => readyBench()],
    ["armed", () => readyBench().begin(HOLD)],
    [
      "finished",
      () =>
        readyBench()
          .begin(HOLD)
          .pull(0.5, 0)
          .pull(8, holdCurve(1000, 3, 400)),
    ],
  ])("at least once a second without a reading: %s", (_phase, made) => {
    const bench = made();
    const before = bench.published("live").length;
    const from_s = bench.at_s;
    bench.wait(6);
    const moments = [
      from_s,
      ...bench
        .published("live")
        .slice(before)
        .map(({ at_s }) => at_s),
    ];
    expect(moments.length).toBeGreaterThan(5);
    for (const [index, at_s] of moments.slice(1).entries()) expect(at_s - (moments[index] ?? 0)).toBeLessThanOrEqual(1);
    expect(bench.last("live")).toMatchObject({ ttl_s: 3 });
  });

  it("tells the lowest and highest force since the message before", () => {
    const bench = readyBench().pull(2, (s) => 100 + 50 * Math.sin(2 * Math.PI * 4 * s));
    // A wave of 4 Hz in messages of 10 Hz: none tells all of it, together they do.
    const seen = bench.published("live").slice(-15);
    for (const { body } of seen) {
      expect(body["min_force_N"]).toBeLessThanOrEqual(body["force_N"] as number);
      expect(body["max_force_N"]).toBeGreaterThanOrEqual(body["force_N"] as number);
    }
    expect(Math.max(...seen.map(({ body }) => body["max_force_N"] as number))).toBeCloseTo(150, -1);
    expect(Math.min(...seen.map(({ body }) => body["min_force_N"] as number))).toBeCloseTo(50, -1);
  });

  it("the reserve is of smoothed force, floor and best, and within 0..1", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(3.5, holdCurve(1000, 10, 0))
      .pull(1.5, 800);
    const body = bench.last("live");
    expect(body).toMatchObject({ phase: "working", effort_number: 1, below_floor_s: 0 });
    expect(body["best_force_N"]).toBeCloseTo(1000, 0);
    expect(body["floor_force_N"]).toBeCloseTo(600, 0);
    expect(body["force_reserve"]).toBeCloseTo((800 - 600) / (1000 - 600), 2);
  });
});

describe("state", () => {
  it("is published on every change, and only then", () => {
    const bench = wholeSet().wait(130);
    const bodies = bench.published("state").map(({ body }) => body);
    for (let index = 1; index < bodies.length; index++) expect(bodies[index]).not.toEqual(bodies[index - 1]);
    const phases = bodies.map((body) => body["phase"]);
    expect(phases.slice(0, 4)).toEqual(["idle", "armed", "working", "resting"]);
    expect(phases.slice(-2)).toEqual(["finished", "idle"]);
    expect(phases.filter((phase) => phase === "working")).toHaveLength(6);
  });

  it("shows the finished set for 120 s, then idle; when it ended stays known", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(8, holdCurve(1000, 3, 400));
    const finished = bench.last("state");
    expect(finished).toMatchObject({
      phase: "finished",
      stop_reason: "hold-below-floor",
      trainee: "otter-14",
      fatigue_threshold: 0.4,
    });
    const end_s = bench.recorded.find(({ effect }) => effect.do === "keep")?.at_s ?? 0;
    bench.wait(end_s + 119.8 - bench.at_s);
    expect(bench.phase).toBe("finished");
    bench.wait(0.4);
    expect(bench.last("state")).toMatchObject({
      phase: "idle",
      set_id: null,
      trainee: null,
      stop_reason: null,
      last_ended_at: finished?.["last_ended_at"],
    });
  });

  it("says that a set is over before anything says that it is kept", () => {
    const bench = wholeSet();
    const order = bench.recorded.flatMap(({ effect }) =>
      effect.do === "keep" ||
      (effect.do === "publish" && effect.topic === "state" && effect.body["phase"] === "finished")
        ? [effect.do]
        : [],
    );
    // Both come of one step; whoever carries it out signals first.
    expect([...order].sort()).toEqual(["keep", "publish"]);
  });

  it("carries the newest comparable set in the names and order of `set`, without an envelope", () => {
    const before = wholeSet().set;
    const history = {
      comparable: before,
      today_best_force_N: null,
      sets_here: 1,
      eccentric_sets_here: 0,
      set_of_day: 2,
      last_set_ended_at: null,
    };
    const bench = readyBench({ history }).begin(CONTINUOUS);
    const shown = bench.last("state")["comparable_set"] as object;
    expect(Object.keys(shown)).toEqual(SET_FIELDS.split(" "));
  });
});

describe("sensor", () => {
  it("is published on a change, and once a minute", () => {
    const bench = readyBench({ rate_Hz: 20 });
    const settled = bench.published("sensor").length;
    bench.pull(190, 0);
    expect(bench.published("sensor").length - settled).toBe(3);
    bench.give({ kind: "storage", trouble: "2 finished sets wait in memory: the disk is full." });
    expect(bench.last("sensor")).toMatchObject({ alarms: [{ code: "storage" }] });
    bench.give({ kind: "storage", trouble: null });
    expect(bench.last("sensor")).toMatchObject({ alarms: [] });
    expect(bench.published("sensor").length - settled).toBe(5);
  });

  it("an alarm that stands keeps its moment; its words follow", () => {
    const bench = readyBench();
    bench.give({ kind: "storage", trouble: "1 finished sets wait in memory: the disk is full." });
    const since = bench.station.desk.alarms[0]?.since;
    bench.pull(5, 0);
    bench.give({ kind: "storage", trouble: "2 finished sets wait in memory: the disk is full." });
    expect(bench.station.desk.alarms).toEqual([
      expect.objectContaining({ code: "storage", since, detail: expect.stringMatching(/^2/) }),
    ]);
  });

  it("the broker's troubles are alarms of every station", () => {
    const bench = readyBench();
    bench.give({ kind: "announcing", code: "not-authorised", trouble: "The broker does not take this." });
    bench.give({ kind: "announcing", code: "recorder-conflict", trouble: null });
    expect(bench.station.desk.alarms).toEqual([expect.objectContaining({ code: "not-authorised", latched: false })]);
  });

  it("says rate, noise, losses and who is at the other end", () => {
    const bench = readyBench().pull(5, 0);
    bench.board.lose(7);
    bench.pull(0.1, 0);
    bench.give({ kind: "line", text: "R,1,2,3*0000", arrived_at_us: bench.now_ms * 1000 });
    bench.wait(61);
    const body = bench.last("sensor");
    expect(body).toMatchObject({ board: "press-left", firmware: "test/1", readings_lost: 7, lines_rejected: 1 });
    expect(body["reading_rate_Hz"]).toBeCloseTo(80, 1);
    // Uniform over +-6 counts: 3.5 counts, and the median of three takes about a third off.
    expect(body["noise_N"]).toBeGreaterThan(0.004);
    expect(body["noise_N"]).toBeLessThan(0.01);
  });
});

describe("set and effort", () => {
  it("the set's fields are the contract's, in its order", () => {
    const { set } = wholeSet();
    expect(Object.keys(set)).toEqual([...ENVELOPE.split(" "), ...SET_FIELDS.split(" ")]);
    for (const effort of set.efforts) expect(Object.keys(effort)).toEqual(EFFORT_FIELDS.split(" "));
    expect(Object.keys(set.quality)).toEqual(QUALITY_FIELDS.split(" "));
    expect(setSchema.parse(JSON.parse(JSON.stringify(set)))).toEqual(set);
  });

  it("`at` is the deciding moment, and `started_at` the first onset", () => {
    const { set } = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(9, holdCurve(1000, 3, 150));
    expect(Date.parse(set.at) - Date.parse(set.started_at)).toBeCloseTo(1000 * set.duration_s, -1);
  });

  it("today's best is the higher of the record's and this set's, and the loss against it goes with it", () => {
    for (const [recorded_N, best_N] of [
      [1250, 1250],
      [900, 1000],
      [null, 1000],
    ] as const) {
      const history = { ...KNOWN, today_best_force_N: recorded_N };
      const { set } = readyBench({ history })
        .begin(HOLD)
        .pull(0.5, 0)
        .pull(9, holdCurve(1000, 3, 150));
      expect(set.best_force_N).toBeCloseTo(1000, 0);
      expect(set.today_best_force_N).toBeCloseTo(best_N, 0);
      expect(set.force_loss_today).toBeCloseTo(1 - (set.final_force_N ?? 0) / best_N, 3);
    }
  });

  it("half of the resting force enters the uncertainty of a moving effort, and of no other", () => {
    const uncertainty = (resistance: string, rests: boolean): number => {
      const bench = readyBench({ station: { resistance } }).begin(HOLD).pull(0.5, 40);
      if (rests) bench.ask("resting");
      bench.pull(1.1, 40).pull(9, (s) => 40 + holdCurve(1000, 3, 150)(s));
      return bench.set.expanded_uncertainty_N ?? Number.NaN;
    };
    expect(uncertainty("driven", true)).toBeGreaterThan(uncertainty("driven", false) + 5);
    expect(uncertainty("locked", true)).toBeCloseTo(uncertainty("locked", false), 1);
  });

  it("each effort is published as it ends, as it will stand in the set", () => {
    const bench = wholeSet();
    const told = bench.published("effort").map(({ body }) => body);
    expect(told).toHaveLength(6);
    expect(told).toEqual(bench.set.efforts.map((effort) => ({ set_id: bench.set.set_id, ...effort })));
  });

  it("an effort below the floor is called as soon as its peak is certain, not when it ends", () => {
    const sinking = (s: number): number => (s < 9 ? repetitions(3, 1.5, 1000)(s) : s < 9.6 ? 550 : s < 12 ? 350 : 0);
    const bench = readyBench().begin(CONTINUOUS).pull(1, 0).pull(12, sinking);
    expect(bench.set).toMatchObject({ stop_reason: "effort-below-floor", reached_threshold: true, decided_by: "any" });
    const [begun, last] = [bench.set.efforts.at(-1)?.start_s ?? 0, bench.set.duration_s];
    // The effort lasts 3 s; its top is over after 0.6, and certain when it has lain 0.4 s behind.
    expect(last - begun).toBeGreaterThan(0.6);
    expect(last - begun).toBeLessThan(1.2);
  });

  it("what was lost, rejected and despiked is told with the set", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(3, holdCurve(1000, 10, 0));
    bench.board.lose(3);
    bench.pull(1, 1000);
    bench.give({ kind: "line", text: "R,1,2,3*0000", arrived_at_us: bench.now_ms * 1000 });
    bench.read(bench.countsOf(3000)).pull(3, 400);
    expect(bench.set.quality).toMatchObject({ readings_lost: 3, lines_rejected: 1, despiked: 1, saturated: 0 });
    expect(bench.set.quality.reading_rate_Hz).toBeGreaterThan(79);
  });
});

/** Every number a message carries, with its path. */
function* numbersIn(value: unknown, path = ""): Generator<readonly [string, number]> {
  if (typeof value === "number") yield [path, value];
  else if (typeof value === "object" && value !== null) {
    for (const [key, inner] of Object.entries(value))
      yield* numbersIn(inner, Array.isArray(value) ? path : `${path}.${key}`);
  }
}

describe("rounding", () => {
  it("force to 0.01 N, time to 1 ms, fractions to 1e-4, in every message", () => {
    const bench = wholeSet({
      noise_counts: 77,
      station: { cell_capacity_N: 4987, working_force_N: 1234.5 },
      record: record({ cell_capacity_N: 4987 }),
    });
    const messages = [
      ...bench.recorded.flatMap(({ effect }) => (effect.do === "publish" ? [messageOf(effect.body, bench.now)] : [])),
      bench.set,
    ];
    expect(messages.length).toBeGreaterThan(300);
    const seen = new Set<string>();
    for (const message of messages) {
      for (const [path, value] of numbersIn(message)) {
        const name = path.split(".").at(-1) ?? "";
        const per_unit =
          name === "noise_N"
            ? 1e4
            : /_N$|_N_s$|_Hz$/.test(name)
              ? 100
              : /_s$/.test(name) && name !== "decline_per_s"
                ? 1000
                : 1e4;
        seen.add(name);
        expect(Math.round(value * per_unit) / per_unit, path).toBe(value);
      }
    }
    for (const name of [
      "force_N",
      "floor_force_N",
      "onset_force_N",
      "impulse_N_s",
      "force_reserve",
      "force_loss",
      "decline_per_s",
      "expanded_uncertainty_N",
    ]) {
      expect([...seen]).toContain(name);
    }
  });
});
