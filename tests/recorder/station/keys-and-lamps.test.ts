import { describe, expect, it } from "vitest";
import type { Phase } from "../../../protocol/vocabulary.ts";
import { Bench, holdCurve, readyBench, record, repetitions, UNNAMED } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;

const IN: Record<Phase, () => Bench> = {
  idle: () => readyBench(),
  armed: () => readyBench().begin(HOLD),
  working: () =>
    readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(4, holdCurve(1000, 10, 0)),
  resting: () =>
    readyBench()
      .begin({ style: "rest-pause" })
      .pull(0.5, 0)
      .pull(5, repetitions(5, 2, 800)),
  // The end is more than three seconds ago.
  finished: () =>
    readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(5, holdCurve(1000, 3, 1000))
      .pull(4, 0),
};

describe("key 1", () => {
  it.each([
    ["idle", "armed"],
    ["armed", "idle"],
    ["working", "finished"],
    ["resting", "finished"],
    ["finished", "armed"],
  ] as const)("while %s: %s", (before, after) => {
    const bench = IN[before]();
    expect(bench.phase).toBe(before);
    bench.press(1);
    expect(bench.phase).toBe(after);
  });

  it("ends a set as on-request", () => {
    expect(IN.working().press(1).set).toMatchObject({
      stop_reason: "on-request",
      ended_because: null,
      cut_short: false,
    });
    expect(IN.resting().press(1).set).toMatchObject({ stop_reason: "on-request" });
  });

  it("within 3 s of an end only acknowledges", () => {
    const ended = (): Bench =>
      readyBench()
        .begin(HOLD)
        .pull(0.5, 0)
        .pull(4, holdCurve(1000, 3, 4000))
        .pull(1.5, 0);
    const end_s = ended().recorded.find(({ effect }) => effect.do === "keep")?.at_s ?? 0;
    for (const [after_s, phase] of [
      [2.9, "finished"],
      [3.1, "armed"],
    ] as const) {
      const bench = ended();
      bench.pull(end_s + after_s - bench.at_s, 0).press(1);
      expect(bench.phase).toBe(phase);
      // An acknowledged press is nothing wrong: no blinks.
      expect(bench.station.lamps.playing?.pattern).not.toBe("refused");
    }
  });

  it("begins for whoever was named here within 10 minutes, else for nobody", () => {
    for (const [after_s, trainee] of [
      [598, "heron-07"],
      [602, null],
    ] as const) {
      const bench = readyBench({ rate_Hz: 20, station: { style: "hold" } }).begin({ trainee: "heron-07" });
      const named_s = bench.at_s;
      bench.ask("end");
      bench.pull(named_s + after_s - bench.at_s, 0).press(1);
      expect(bench.phase).toBe("armed");
      expect(bench.station.set?.path.facts.trainee).toBe(trainee);
    }
  });

  it("asks through the same door as everybody, as a key", () => {
    const bench = IN.idle().press(1);
    expect(bench.did("dispatch")).toEqual([{ do: "dispatch", verb: "begin", args: { station: "leg-press" } }]);
    expect(bench.press(1).did("dispatch").at(-1)).toEqual({
      do: "dispatch",
      verb: "end",
      args: { station: "leg-press" },
    });
  });
});

describe("key 2", () => {
  it("idle: zeroes", () => {
    const bench = readyBench().pull(3, 3).press(2).pull(2.5, 3);
    expect(bench.did("dispatch")).toEqual([
      { do: "dispatch", verb: "zero", args: { station: "leg-press", confirm: false } },
    ]);
    expect(bench.force_N).toBeCloseTo(0, 1);
  });

  it("idle, after a zero that wants confirming: confirms it", () => {
    const bench = readyBench().pull(3, 60).press(2);
    while (bench.answer() === null) bench.pull(0.1, 60);
    expect(bench.force_N).toBeCloseTo(60, 0);
    expect(bench.station.lamps.playing?.pattern).toBe("refused");
    bench.press(2).pull(2.2, 60);
    expect(bench.force_N).toBeCloseTo(0, 0);
  });

  it("armed: takes the resting force", () => {
    const bench = readyBench().begin(HOLD).pull(1, 12).press(2).pull(1.2, 12);
    expect(bench.last("state")).toMatchObject({ phase: "armed", resting_force: "taken" });
  });

  it.each(["working", "resting", "finished"] as const)("%s: refused, and blinks", (phase) => {
    const bench = IN[phase]().press(2);
    expect(bench.phase).toBe(phase);
    expect(bench.did("dispatch")).toEqual([]);
    expect(bench.station.lamps.playing?.pattern).toBe("refused");
  });
});

describe("other keys, and keys at a bad moment", () => {
  it("a key that means nothing is refused", () => {
    expect(readyBench().press(3).station.lamps.playing?.pattern).toBe("refused");
  });

  it("a begin that is refused blinks at whoever pressed it", () => {
    const bench = new Bench({ record: null }).open().settle().press(1);
    expect(bench.phase).toBe("idle");
    expect(bench.station.lamps.playing?.pattern).toBe("refused");
  });

  it("letting go of a key asks for nothing", () => {
    const bench = readyBench();
    bench.board.say({ kind: "key", key: 1, pressed: false });
    expect(bench.listen().phase).toBe("idle");
  });
});

describe("lamp 1", () => {
  it("is on while armed and working, blinks near the floor, and is off afterwards", () => {
    const bench = readyBench();
    expect(bench.board.lamps[1]).toBe("off");
    bench.begin(HOLD);
    expect(bench.board.lamps[1]).toBe("on");
    // Reserve a quarter: floor 600, best 1000, so at 700 N.
    const blinked_N: number[] = [];
    bench.pull(0.5, 0).pull(3, holdCurve(1000, 10, 0));
    for (let force_N = 1000; bench.phase === "working"; force_N -= 2) {
      bench.read(bench.countsOf(force_N));
      if (bench.board.lamps[1] === "blink" && blinked_N.length === 0) blinked_N.push(force_N);
    }
    // The smoothed force of a fall by 160 N/s lags by half a second: 80 N.
    expect(blinked_N[0]).toBeGreaterThan(700 - 80 - 10);
    expect(blinked_N[0]).toBeLessThan(700 - 80 + 10);
    expect(bench.board.lamps[1]).toBe("off");
  });

  it("stays on while resting and goes off where a set is disarmed", () => {
    expect(IN.resting().board.lamps[1]).toBe("on");
    const bench = IN.armed();
    bench.ask("end");
    expect(bench.board.lamps[1]).toBe("off");
  });

  it("is on again after a false start", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(1, holdCurve(900, 0.6, 9000))
      .pull(1.5, 0);
    expect(bench.phase).toBe("armed");
    expect(bench.board.lamps[1]).toBe("on");
  });
});

describe("lamp 2", () => {
  /** When lamp 2 changed, ms of the host's clock since `from`, as the board heard it. */
  function lamp2(bench: Bench, lasts_s: number): [number, string][] {
    const began_ms = bench.now_ms;
    const seen: [number, string][] = [];
    for (let last = bench.board.lamps[2], left = lasts_s * 100; left > 0; left--) {
      bench.wait(0.01);
      if (bench.board.lamps[2] !== last) seen.push([Math.round(bench.now_ms - began_ms), bench.board.lamps[2]]);
      last = bench.board.lamps[2];
    }
    return seen;
  }
  const near = (at_ms: number) => expect.toSatisfy((ms: number) => ms >= at_ms && ms <= at_ms + 60, `at ${at_ms} ms`);

  it("is on for 1.5 s as the stop", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(3, holdCurve(1000, 10, 0));
    while (bench.phase === "working") bench.read(bench.countsOf(500));
    expect(bench.set.reached_threshold).toBe(true);
    expect(bench.board.lamps[2]).toBe("on");
    expect(lamp2(bench, 3)).toEqual([[near(1500), "off"]]);
  });

  it("has a pattern of its own for every other end", () => {
    const bench = IN.working().press(1);
    expect(bench.board.lamps[2]).toBe("on");
    expect(lamp2(bench, 3)).toEqual([
      [near(500), "off"],
      [near(750), "on"],
      [near(1250), "off"],
    ]);
  });

  it("blinks three times, shortly, for a refused key", () => {
    const bench = IN.working().press(2);
    expect(bench.board.lamps[2]).toBe("on");
    expect(lamp2(bench, 0.95).map(([, to]) => to)).toEqual(["off", "on", "off", "on", "off"]);
  });

  it("blinks once, shortly, at half of the rest", () => {
    const bench = readyBench()
      .begin({ style: "continuous" })
      .pull(0.5, 0)
      .pull(6, repetitions(3, 1.5, 900));
    // Rest counts from below the attempt level, about 4.5 s into the pull; half of 8 s later it blinks.
    const blinks: number[] = [];
    for (let before = "off"; bench.phase === "resting"; before = bench.board.lamps[2]) {
      bench.read(bench.countsOf(0));
      if (bench.board.lamps[2] === "on" && before === "off") blinks.push(bench.at_s);
    }
    expect(bench.set.stop_reason).toBe("rest-limit");
    const rest_from_s = 3.2 + 0.5 + 4.4;
    expect(blinks[0]).toBeGreaterThan(rest_from_s + 4);
    expect(blinks[0]).toBeLessThan(rest_from_s + 4.15);
  });

  it("a refused key does not cut the stop short", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(3, holdCurve(1000, 10, 0));
    while (bench.phase === "working") bench.read(bench.countsOf(500));
    bench.press(2);
    expect(bench.station.lamps.playing?.pattern).toBe("stop");
  });

  it("is out when the pattern is over, and the board hears of it at least every 2 s", () => {
    const bench = readyBench();
    const heard = bench.board.heard.length;
    bench.pull(10, 0);
    expect(bench.board.heard.length - heard).toBeGreaterThanOrEqual(10);
    expect(bench.board.lamps).toEqual({ 1: "off", 2: "off" });
  });
});

it("the bare dialect has neither keys nor lamps, and works", () => {
  const bench = new Bench({ station: { dialect: "bare", board: undefined, style: "hold" }, record: record(UNNAMED) });
  bench
    .open()
    .pull(4, 0)
    .begin(HOLD)
    .pull(0.5, 0)
    .pull(8, holdCurve(1000, 3, 300));
  expect(bench.did("write")).toEqual([]);
  expect(bench.set).toMatchObject({ stop_reason: "hold-below-floor" });
  expect(bench.set.best_force_N).toBeCloseTo(1000, 0);
});
