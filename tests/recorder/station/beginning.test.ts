import { describe, expect, it } from "vitest";
import { beginResultSchema } from "../../../protocol/requests/results.ts";
import { historyQuery } from "../../../recorder/station/beginning.ts";
import { Bench, CALIBRATION_ID, holdCurve, KNOWN, NO_HISTORY, readyBench } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;
const error = (code: string, message: RegExp) => ({
  ok: false,
  error: { code, message: expect.stringMatching(message) },
});

describe("begin", () => {
  it("answers with the set and everything resolved", () => {
    const bench = readyBench();
    const outcome = bench.ask("begin", { trainee: "otter-14", side: "left", warm_up: true, ...HOLD });
    if (outcome?.ok !== true) throw new Error("it was refused");
    expect(beginResultSchema.parse(outcome.result)).toMatchObject({
      set_id: expect.stringMatching(/^01930000/),
      station: "leg-press",
      trainee: "otter-14",
      side: "left",
      exercise: "leg-press",
      style: "hold",
      intent: "maximal",
      fatigue_threshold: 0.4,
      warm_up: true,
      options: { onset_force_N: 50, time_limit_s: 240 },
      calibration_id: CALIBRATION_ID,
      warnings: [],
    });
    expect(bench.phase).toBe("armed");
    expect(bench.last("state")).toMatchObject({ phase: "armed", trainee: "otter-14", side: "left" });
  });

  it("waits until the rate is known", () => {
    const bench = new Bench().open().pull(1, 0);
    expect(bench.ask("begin")).toMatchObject(error("sensor-fault", /only just begun/));
    expect(bench.pull(1.5, 0).ask("begin")).toMatchObject({ ok: true });
  });

  it("is told a rate too low for the style, and taken for one that will do", () => {
    const bench = readyBench({ rate_Hz: 10, board: { rate: 10 }, station: { rate: 10 } });
    expect(bench.ask("begin", { style: "continuous" })).toMatchObject(error("rate-too-low", /40.*10\.0/));
    expect(bench.ask("begin", { style: "hold" })).toMatchObject({ ok: true });
  });

  it.each(["working", "resting"] as const)("is busy while somebody is %s: who, and since when", (phase) => {
    const bench = readyBench().begin({ trainee: "heron-07", style: "rest-pause" }).pull(0.5, 0).pull(2, 600);
    if (phase === "resting") bench.pull(2, 0);
    expect(bench.phase).toBe(phase);
    const since = bench.last("state");
    expect(bench.ask("begin", { trainee: "otter-14" })).toMatchObject(error("busy", /heron-07.*2026-11-24T10:00:0\d/));
    expect(bench.last("state")).toEqual(since);
  });

  it("replaces a set that is only armed, and lets it be forgotten", () => {
    const bench = readyBench().begin({ trainee: "heron-07", ...HOLD });
    const first = bench.station.set?.path.facts.set_id;
    bench.ask("resting");
    const waiting = bench.asked;
    bench.begin({ trainee: "otter-14", style: "continuous" });
    expect(bench.answer(waiting)).toMatchObject({ ok: false, error: { code: "expired" } });
    expect(bench.did("forget")).toEqual([{ do: "forget", set_id: first }]);
    expect(bench.station.set?.path.facts).toMatchObject({ trainee: "otter-14", setup: { style: "continuous" } });
    expect(bench.last("state")).toMatchObject({ phase: "armed", trainee: "otter-14" });
  });

  it("says whose set it replaces, and that somebody is pulling already", () => {
    const bench = readyBench();
    // Somebody leans on it before anything is set up; being above the onset begins nothing.
    bench.pull(1, 500).begin({ trainee: "heron-07", ...HOLD });
    bench.pull(1, 500);
    expect(bench.ask("begin", { trainee: "otter-14", ...HOLD })).toMatchObject({
      ok: true,
      result: { warnings: [expect.stringMatching(/^heron-07 was set up/), expect.stringMatching(/^There are 500 N/)] },
    });
  });

  it("is refused while a zero cannot be known, and while the line is closed", () => {
    expect(new Bench({ record: null }).open().settle().ask("begin")).toMatchObject(
      error("no-calibration", /calibration/),
    );
    const closed = readyBench();
    closed.give({ kind: "closed" });
    expect(closed.ask("begin")).toMatchObject(error("sensor-fault", /closed/));
    expect(new Bench().ask("begin")).toMatchObject(error("sensor-fault", /not been opened/));
  });

  it("a trainee nobody knows here is told why the set ends early; the set goes by it", () => {
    const bench = readyBench({ history: NO_HISTORY }).begin({ trainee: "newt-1", style: "hold" });
    bench.pull(0.5, 0).pull(10, holdCurve(1000, 3, 60));
    expect(bench.set).toMatchObject({ stop_reason: "hold-below-floor", fatigue_threshold: 0.2 });
    expect(bench.set.floor_force_N).toBeCloseTo(800, 0);
  });

  it("on a stack efforts are counted and timed, and floor, reserve and loss are null", () => {
    const bench = readyBench({ station: { resistance: "stack" } })
      .begin({ style: "continuous" })
      .pull(0.5, 0);
    bench.pull(12, (s) => (s % 3 < 1.5 ? 800 : 0)).pull(9, 0);
    expect(bench.set).toMatchObject({
      stop_reason: "rest-limit",
      fatigue_threshold: null,
      floor_force_N: null,
      force_loss: null,
      force_loss_today: null,
      force_loss_uncertainty: null,
      reached_threshold: false,
    });
    expect(bench.set.efforts).toHaveLength(4);
    for (const { body } of bench.published("live")) {
      expect(body).toMatchObject({ floor_force_N: null, force_reserve: null });
    }
  });

  it("the armed set expires after 180 s without an effort, and uses up no number", () => {
    const bench = readyBench({ rate_Hz: 20 }).begin({ ...HOLD });
    bench.pull(179.9, 0);
    expect(bench.phase).toBe("armed");
    bench.pull(0.3, 0);
    expect(bench.phase).toBe("idle");
    expect(bench.did("keep")).toEqual([]);
    expect(bench.did("forget")).toHaveLength(1);
  });

  it("a held set keeps its ceiling, sounds lamp 2 above it and goes on", () => {
    const bench = readyBench().begin({ style: "hold", intent: "held", options: { ceiling_force_N: 500 } });
    bench.pull(0.5, 0).pull(3, holdCurve(450, 10, 0));
    expect(bench.station.lamps.playing).toBeNull();
    bench.pull(0.2, 520);
    expect(bench.station.lamps.playing?.pattern).toBe("warning");
    expect(bench.phase).toBe("working");
  });
});

it("what was finished leaves the stage with the next begin, and does not come back when that is disarmed", () => {
  const bench = readyBench()
    .begin(HOLD)
    .pull(0.5, 0)
    .pull(8, holdCurve(1000, 3, 400));
  expect(bench.phase).toBe("finished");
  bench.begin(HOLD);
  expect(bench.last("state")).toMatchObject({ phase: "armed", stop_reason: null });
  bench.ask("end");
  expect(bench.last("state")).toMatchObject({ phase: "idle", set_id: null });
});

it("the question to the record: whose, where and how, and since when it is today", () => {
  const bench = readyBench({ station: { subtract_resting: true, style: "hold" } });
  const query = historyQuery(
    bench.station,
    {
      args: { station: "leg-press", trainee: "otter-14", side: "left", intent: "held" },
      setup: { seat: "4", pin: "7" },
    },
    "2026-11-24T00:00:00.000Z",
    bench.now,
  );
  expect(query).toEqual({
    station: "leg-press",
    trainee: "otter-14",
    exercise: "leg-press",
    side: "left",
    style: "hold",
    intent: "held",
    setup: '{"pin":"7","seat":"4"}',
    resting_subtracted: true,
    day_starts_at: "2026-11-24T00:00:00.000Z",
    now: expect.stringMatching(/^2026-11-24T10:00:0/),
  });
});

it("the set of the day and the rest before it come from the record", () => {
  const history = { ...KNOWN, set_of_day: 3, last_set_ended_at: "2026-11-24T09:58:00.000Z" };
  const bench = readyBench({ history })
    .begin(HOLD)
    .pull(0.5, 0)
    .pull(8, holdCurve(1000, 3, 400));
  const { set_of_day, rested_s, started_at } = bench.set;
  expect(set_of_day).toBe(3);
  expect(rested_s).toBeCloseTo((Date.parse(started_at) - Date.parse("2026-11-24T09:58:00.000Z")) / 1000, 3);
});
