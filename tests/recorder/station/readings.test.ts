import { describe, expect, it } from "vitest";
import { SATURATED_HIGH_COUNTS } from "../../../protocol/units.ts";
import { Bench, COUNTS_PER_N, holdCurve, readyBench, record, UNNAMED, ZERO_COUNTS } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;
/** Between the third reading of an epoch and the noise of a few counts. */
const CLOSE_N = 0.03;

describe("what is a force", () => {
  it("is nothing before the board has said who it is, however long it reads", () => {
    const bench = new Bench();
    bench.board.ignores.add("identify");
    bench.open().pull(3, 500);
    expect(bench.force_N).toBeNull();
    expect(bench.published("live").every(({ body }) => body["force_N"] === null)).toBe(true);
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    bench.board.hello();
    bench.listen().pull(0.1, 500);
    expect(bench.force_N).toBeCloseTo(500, 1);
  });

  it("begins with the third reading: before it there is no median of three", () => {
    const bench = new Bench().open();
    const first = [0, 1, 2].map(() => bench.read(bench.countsOf(500)).force_N);
    expect(first.slice(0, 2)).toEqual([null, null]);
    expect(first[2]).toBeCloseTo(500, 1);
  });

  it("is the median of three: one wild reading is not seen, two are", () => {
    const bench = readyBench();
    const seen = [100, 100, 900, 100, 100, 900, 900, 100].map((force_N) =>
      Math.round(bench.read(bench.countsOf(force_N)).force_N ?? Number.NaN),
    );
    expect(seen).toEqual([0, 100, 100, 100, 100, 100, 900, 900]);
  });

  it("is nothing without a record, and says so", () => {
    const bench = new Bench({ record: null }).open().pull(1, 500);
    expect(bench.force_N).toBeNull();
    expect(bench.last("sensor")).toMatchObject({ ready: false, calibration_id: null, force_N: null });
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "no-calibration" } });
  });

  it("has the sign of the load where the wires are reversed", () => {
    const reversed = record({ counts_per_N: -COUNTS_PER_N });
    const bench = readyBench({ record: reversed }).pull(1, 500);
    expect(bench.force_N).toBeCloseTo(500, 1);
    expect(bench.station.sensor.before1).toBeLessThan(ZERO_COUNTS);
  });

  it("is null in every message once the sensor is at fault, never zero", () => {
    const bench = readyBench().pull(1, 500);
    bench.read(SATURATED_HIGH_COUNTS).read(SATURATED_HIGH_COUNTS).wait(2);
    const after = bench.published("live").filter(({ at_s }) => at_s > 4.3);
    expect(after.length).toBeGreaterThan(1);
    for (const { body } of after) expect(body).toMatchObject({ force_N: null, min_force_N: null, max_force_N: null });
  });
});

describe("which board it is", () => {
  it("a board of another name is refused, with both names, and gives no force", () => {
    const bench = new Bench({ board: { board: "press-right" } }).open().pull(3, 500);
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("sensor-fault")).toMatch(/press-right.*press-left/);
    expect(bench.last("sensor")).toMatchObject({ ready: false, board: "press-right" });
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
  });

  it("any board will do where the station names none, but not another than the record's", () => {
    const bench = new Bench({ station: { board: undefined }, board: { board: "press-right" } }).open().pull(3, 500);
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("calibration-mismatch")).toMatch(/press-left.*press-right/);
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "no-calibration" } });
  });

  it("a record of a line that names nothing fits no board, and the record of a board no such line", () => {
    const named = new Bench({ station: { board: undefined }, record: record(UNNAMED) }).open().pull(3, 500);
    expect(named.force_N).toBeNull();
    expect(named.alarm("calibration-mismatch")).toMatch(/names no board.*press-left/);
    expect(named.ask("begin")).toMatchObject({ ok: false, error: { code: "no-calibration" } });

    const bare = { dialect: "bare", board: undefined, style: "hold" };
    const unnamed = new Bench({ station: bare }).open().pull(3, 500);
    expect(unnamed.force_N).toBeNull();
    expect(unnamed.alarm("calibration-mismatch")).toMatch(/press-left.*names none/);
    expect(unnamed.ask("begin")).toMatchObject({ ok: false, error: { code: "no-calibration" } });
    expect(new Bench({ station: bare, record: record(UNNAMED) }).open().pull(3, 500).force_N).toBeCloseTo(500, 1);
  });

  it("another amplifier than the record's is a mismatch, never a force", () => {
    const bench = new Bench({ board: { amplifier: "ads1232" } }).open().pull(3, 500);
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("calibration-mismatch")).toMatch(/amplifier hx711.*ads1232/);
  });

  it("a wrong gain is set right with G; until it is answered there is no force", () => {
    const bench = new Bench({ board: { gain: 64 } });
    bench.board.ignores.add("gain");
    bench.open().pull(0.5, 500);
    expect(bench.board.heard).toContainEqual(expect.objectContaining({ kind: "gain", gain: 128 }));
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("calibration-mismatch")).toMatch(/gain 128.*64/);
  });

  it("no reading of the old gain is taken for a force of the new one", () => {
    // At gain 64 the same force gives half the counts; the answer to G stands between the last old and the first new.
    const bench = new Bench({ board: { gain: 64 } });
    bench.board.ignores.add("gain");
    bench.open();
    for (let index = 0; index < 20; index++) bench.read(Math.round(bench.countsOf(1000) / 2));
    const gain = bench.board.heard.find((line) => line.kind === "gain");
    bench.board.gain = 128;
    bench.board.say({ kind: "answer", command: gain?.command ?? 0, error: null });
    bench.listen();
    expect(bench.alarm("calibration-mismatch")).toBeNull();
    const forces = [0, 1, 2, 3].map(() => bench.read(bench.countsOf(1000)).force_N);
    for (const force_N of forces) if (force_N !== null) expect(force_N).toBeCloseTo(1000, 0);
    expect(forces.at(-1)).toBeCloseTo(1000, 0);
  });

  it("a gain the board will not set stays a mismatch", () => {
    const bench = new Bench({ board: { gain: 64 } });
    bench.board.ignores.add("gain");
    bench.open();
    const gain = bench.board.heard.find((line) => line.kind === "gain");
    bench.board.say({ kind: "answer", command: gain?.command ?? 0, error: "unknown-command" });
    bench.listen().pull(1, 500);
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("calibration-mismatch")).not.toBeNull();
  });
});

describe("a faulty amplifier", () => {
  const pulled = (): Bench =>
    readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(4, holdCurve(1000, 10, 0));

  it("saturated without a strong force before is the wiring: sensor-fault", () => {
    const bench = pulled().read(SATURATED_HIGH_COUNTS);
    expect(bench.phase).toBe("working");
    bench.read(SATURATED_HIGH_COUNTS);
    expect(bench.phase).toBe("finished");
    expect(bench.set).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
    expect(bench.set.best_force_N).toBeCloseTo(1000, 0);
    expect(bench.alarm("sensor-fault")).toMatch(/end of its range/);
    expect(bench.alarm("overload")).toBeNull();
  });

  it.each([
    [0.79, "sensor-fault"],
    [0.81, "overload"],
  ])("saturated after %f of capacity: %s", (share, reason) => {
    // The load path of this one bears more than its cell, so only the saturation tells.
    const bench = readyBench({ station: { force_limit_N: 6000 } })
      .begin(HOLD)
      .pull(0.5, 0);
    bench
      .pull(4, holdCurve(share * 5000, 10, 0))
      .read(SATURATED_HIGH_COUNTS)
      .read(SATURATED_HIGH_COUNTS);
    expect(bench.set.stop_reason).toBe(reason);
    expect(bench.alarm("overload") !== null).toBe(reason === "overload");
  });

  it("says the same where the board says so as well", () => {
    const bench = readyBench({ station: { force_limit_N: 6000 } })
      .begin(HOLD)
      .pull(0.5, 0);
    bench.pull(4, holdCurve(4500, 10, 0)).read(SATURATED_HIGH_COUNTS);
    bench.board.fault("amplifier-saturated");
    bench.listen().read(SATURATED_HIGH_COUNTS);
    expect(bench.set.stop_reason).toBe("overload");
  });

  it("one saturated reading is a spike, also where the board remarks on it", () => {
    const bench = pulled().read(SATURATED_HIGH_COUNTS);
    bench.board.fault("amplifier-saturated");
    bench.listen().pull(1, 1000);
    expect(bench.phase).toBe("working");
    bench.pull(3, 500);
    expect(bench.set).toMatchObject({ stop_reason: "hold-below-floor", quality: { saturated: 1 } });
    expect(bench.set.best_force_N).toBeCloseTo(1000, 0);
  });

  it("an overload by saturation is over when the load is off", () => {
    const bench = readyBench({ station: { force_limit_N: 4500 } });
    bench.pull(1, 4100).read(SATURATED_HIGH_COUNTS).read(SATURATED_HIGH_COUNTS);
    expect(bench.alarm("overload")).not.toBeNull();
    bench.pull(1, 0);
    expect(bench.alarm("sensor-fault")).toBeNull();
    expect(bench.alarm("overload")).toBeNull();
  });

  it("stuck on one value for 2 s ends a set as sensor-fault and is no force", () => {
    const bench = pulled();
    const stuck = bench.countsOf(1000);
    for (let index = 0; index < 150; index++) bench.read(stuck);
    expect(bench.phase).toBe("working");
    for (let index = 0; index < 20; index++) bench.read(stuck);
    expect(bench.set.stop_reason).toBe("sensor-fault");
    expect(bench.force_N).toBeNull();
    bench.pull(0.2, 0);
    expect(bench.force_N).toBeCloseTo(0, 1);
  });

  it("silent ends a set when the host has polled and found nothing", () => {
    const bench = pulled();
    bench.give({ kind: "silence" });
    expect(bench.set.stop_reason).toBe("sensor-fault");
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("sensor-fault")).toMatch(/No readings/);
    bench.pull(0.1, 0);
    expect(bench.alarm("sensor-fault")).toBeNull();
  });

  it("silent on a board that goes on answering shows in its own time", () => {
    // Lamps are said again every 0.7 s and answered: the line is never quiet, and there is no reading in it.
    const bench = pulled().wait(0.9);
    expect(bench.phase).toBe("working");
    bench.wait(1.6);
    expect(bench.phase).toBe("finished");
    expect(bench.set).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
    expect(bench.force_N).toBeNull();
    expect(bench.last("live")["force_N"]).toBeNull();
    expect(bench.alarm("sensor-fault")).toMatch(/No readings/);
  });

  it("a board in doubt that does not say who it is: the readings it is not believed end the set", () => {
    const bench = pulled();
    bench.board.ignores.add("identify");
    // Its count jumps: nothing that follows can be placed in time.
    bench.board.lose(30_000);
    bench.pull(0.9, 1000);
    expect(bench.phase).toBe("working");
    bench.pull(0.2, 1000);
    expect(bench.phase).toBe("finished");
    expect(bench.force_N).toBeNull();
    expect(bench.set.stop_reason).toBe("sensor-fault");
    bench.board.hello();
    bench.listen().pull(0.1, 200);
    expect(bench.force_N).toBeCloseTo(200, 1);
  });

  it("answers whoever waits for a zero, whatever becomes of the sensor", () => {
    const waiting = (): Bench => {
      const bench = readyBench();
      expect(bench.ask("zero")).toBeNull();
      return bench.pull(0.2, 0);
    };
    const told = { ok: false, error: { code: "sensor-fault" } };
    const silent = waiting();
    silent.give({ kind: "silence" });
    expect(silent.answer()).toMatchObject(told);
    const unplugged = waiting();
    unplugged.give({ kind: "closed" });
    expect(unplugged.answer()).toMatchObject(told);
    const dumb = waiting();
    dumb.board.fault("amplifier-silent");
    expect(dumb.listen().answer()).toMatchObject(told);
  });
});

describe("what the board reports", () => {
  it("amplifier-silent ends a set and is lifted by the next reading", () => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(4, holdCurve(1000, 10, 0));
    bench.board.fault("amplifier-silent");
    bench.listen();
    expect(bench.set.stop_reason).toBe("sensor-fault");
    expect(bench.alarm("sensor-fault")).toMatch(/amplifier/);
    expect(bench.force_N).toBeNull();
    bench.pull(0.1, 0);
    expect(bench.alarm("sensor-fault")).toBeNull();
  });

  it.each(["brownout", "watchdog", "overrun"] as const)("%s is written down and ends nothing by itself", (fault) => {
    const bench = readyBench()
      .begin(HOLD)
      .pull(0.5, 0)
      .pull(4, holdCurve(1000, 10, 0));
    bench.board.fault(fault);
    bench.listen();
    expect(bench.phase).toBe("working");
    expect(bench.did("log").some(({ text }) => text.includes(fault))).toBe(true);
  });
});

describe("epochs", () => {
  const PHASES = {
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
        .pull(14, (s) => repetition(s, 3, 1.5, 1000)),
    finished: () =>
      readyBench()
        .begin(HOLD)
        .pull(0.5, 0)
        .pull(8, holdCurve(1000, 3, 400)),
  } as const;
  const repetition = (s: number, every_s: number, lasts_s: number, peak_N: number): number =>
    s % every_s < lasts_s ? peak_N : 0;
  const AFTER = {
    idle: "idle",
    armed: "idle",
    working: "finished",
    resting: "finished",
    finished: "finished",
  } as const;

  it.each(["idle", "armed", "working", "resting", "finished"] as const)("a restart while %s", (phase) => {
    const bench = PHASES[phase]();
    expect(bench.phase).toBe(phase);
    const before = bench.station.sensor.at_us;
    bench.board.restart();
    bench.listen();
    expect(bench.phase).toBe(AFTER[phase]);
    expect(bench.force_N).toBeNull();
    if (phase === "working" || phase === "resting") {
      expect(bench.set).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
    }
    bench.pull(0.1, 200);
    expect(bench.force_N).toBeCloseTo(200, 1);
    expect(bench.station.sensor.at_us).toBeGreaterThan(before);
  });

  it.each(["idle", "armed", "working", "resting", "finished"] as const)("a line that is lost while %s", (phase) => {
    const bench = PHASES[phase]();
    bench.give({ kind: "trouble", sentence: "/dev/press is gone: it was unplugged." });
    bench.give({ kind: "closed" });
    expect(bench.phase).toBe(AFTER[phase]);
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("sensor-fault")).toMatch(/unplugged/);
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    bench.wait(3).open();
    bench.give({ kind: "trouble", sentence: null });
    bench.pull(0.1, 200);
    expect(bench.force_N).toBeCloseTo(200, 1);
    expect(bench.alarm("sensor-fault")).toBeNull();
  });

  it("the zero in use and the record outlive a restart; what was measured does not", () => {
    const bench = readyBench().pull(1, 8);
    bench.ask("zero");
    bench.pull(2.5, 8);
    expect(bench.answer()).toMatchObject({ ok: true });
    expect(bench.force_N).toBeCloseTo(0, 1);
    bench.board.restart();
    bench.listen().pull(0.5, 8);
    expect(bench.force_N).toBeCloseTo(0, 1);
    expect(bench.ask("begin")).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    expect(bench.pull(2.5, 8).ask("begin")).toMatchObject({ ok: true });
  });

  it("whoever was named before a restart of the board is known after it", () => {
    const bench = readyBench().begin({ trainee: "heron-07", ...HOLD });
    bench.ask("end");
    bench.board.restart();
    bench.listen().settle().press(1);
    expect(bench.phase).toBe("armed");
    expect(bench.station.set?.path.facts.trainee).toBe("heron-07");
  });

  it("a key pressed just after a restart ended the set only acknowledges", () => {
    const bench = PHASES.working();
    bench.board.restart();
    bench.listen().pull(2.6, 0).press(1);
    expect(bench.phase).toBe("finished");
    expect(bench.did("dispatch")).toEqual([]);
  });
});

it("the noise of the sensor is learned at rest, never from somebody at work", () => {
  const bench = readyBench().begin(HOLD).pull(0.5, 0);
  const rest_N = bench.station.sensor.stillness.judged.noise_N ?? Number.NaN;
  // As steady as only a strap can hold it, and far noisier than the sensor.
  bench.pull(8, (s) => Math.min(1000, 5000 * s) + 4 * Math.sin(2 * Math.PI * 13 * s));
  bench.ask("end");
  expect(bench.pull(0.5, 0).station.sensor.stillness.judged.noise_N).toBe(rest_N);
});

describe("despiking", () => {
  it("a spike anywhere in a hold changes neither best nor end, and is counted", () => {
    const curve = holdCurve(1000, 3, 400);
    const clean = readyBench({ noise_counts: 3 }).begin(HOLD).pull(0.5, 0).pull(7, curve).set;
    for (const place of [60, 200, 321, 400]) {
      const bench = readyBench({ noise_counts: 3 }).begin(HOLD).pull(0.5, 0);
      for (let index = 1; index <= 560; index++) {
        const counts = bench.countsOf(curve(index / 80));
        bench.read(index === place ? counts + (index % 2 === 0 ? 1_500_000 : -1_500_000) : counts);
      }
      const spiked = bench.set;
      expect(spiked.stop_reason).toBe(clean.stop_reason);
      expect(Math.abs((spiked.best_force_N ?? 0) - (clean.best_force_N ?? 0))).toBeLessThan(CLOSE_N);
      expect(Math.abs(spiked.duration_s - clean.duration_s)).toBeLessThanOrEqual(0.0126);
      expect(spiked.quality.despiked).toBe(clean.quality.despiked + 1);
    }
  });
});
