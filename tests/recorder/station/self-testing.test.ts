/** A self-test takes a station for some seconds of device time, and answers whatever becomes of the line. */
import { describe, expect, it } from "vitest";
import type { Station } from "../../../recorder/station/state.ts";
import { Bench, type BenchOptions, COUNTS_PER_N, readyBench, record, UNNAMED, ZERO_COUNTS } from "./bench.ts";

interface Answer {
  readonly at_us: readonly number[];
  readonly counts: readonly number[];
  readonly [field: string]: unknown;
}

const BARE: BenchOptions = { station: { dialect: "bare", board: undefined }, record: record(UNNAMED) };
const SATURATED = 8_388_607;
const BUSY = {
  ok: false,
  error: { code: "busy", message: expect.stringMatching(/self-test of 10 s is running here since 2026/) },
};

function begin(bench: Bench, args: { duration_s?: number; lamps?: boolean } = {}): Bench {
  expect(bench.ask("self-test", { duration_s: 10, lamps: false, ...args })).toBeNull();
  return bench;
}

function answerOf(bench: Bench, number = bench.asked): Answer {
  const outcome = bench.answer(number);
  if (outcome?.ok !== true) throw new Error(`no answer but ${JSON.stringify(outcome)}`);
  return outcome.result as Answer;
}

function repeat(bench: Bench, counts: number, readings: number): Bench {
  for (let index = 0; index < readings; index++) bench.read(counts);
  return bench;
}

function frozen<T>(value: T): T {
  if (typeof value !== "object" || value === null || Object.isFrozen(value)) return value;
  Object.freeze(value);
  for (const part of Object.values(value)) frozen(part);
  return value;
}

describe("the readings of a self-test", () => {
  it("are raw, as many as come in the time, with what is known of the station", () => {
    const bench = begin(readyBench()).pull(10.1, 0);
    const { at_us, counts, ...known } = answerOf(bench);
    expect(counts).toHaveLength(801);
    expect(at_us).toHaveLength(801);
    expect(at_us.at(-1)! - at_us[0]!).toBe(10_000_000);
    expect(at_us.every((at, index) => index === 0 || at >= at_us[index - 1]!)).toBe(true);
    expect(Math.max(...counts.map((one) => Math.abs(one - ZERO_COUNTS)))).toBeLessThanOrEqual(6);
    expect(known).toEqual({
      station: "leg-press",
      since: expect.stringMatching(/^2026-11-24T10:00/),
      duration_s: 10,
      ended: "complete",
      readings_lost: 0,
      lines_rejected: 0,
      dialect: "tm1",
      serial_port: "/dev/press",
      board: "press-left",
      firmware: "test/1",
      amplifier: "hx711",
      gain: 128,
      rate: 80,
      configured_rate_Hz: 80,
      reading_rate_Hz: expect.closeTo(80, 0),
      counts_per_N: COUNTS_PER_N,
      zero_counts: ZERO_COUNTS,
      zero_shift_N: 0,
      noise_N: expect.closeTo(0.01, 1),
      cell_capacity_N: 5000,
      working_force_N: 2500,
      trouble: null,
      lamps: null,
    });
  });

  it("are the first of device time, however the host's clock goes", () => {
    const bench = begin(readyBench({ host_speed: 0.01 })).pull(10.1, 0);
    expect(answerOf(bench)).toMatchObject({ ended: "complete" });
    expect(answerOf(bench).counts).toHaveLength(801);
  });

  it("count what was lost and what was rejected on the way, and not what was lost before", () => {
    const bench = readyBench();
    bench.board.lose(7);
    begin(bench).pull(2, 0);
    bench.board.lose(3);
    bench.pull(1, 0).hear("R,1,nonsense").pull(7.2, 0);
    expect(answerOf(bench)).toMatchObject({ readings_lost: 3, lines_rejected: 1, ended: "complete" });
  });

  it("come of a saturated and of a stuck amplifier too, with its trouble", () => {
    const saturated = repeat(begin(repeat(readyBench(), SATURATED, 300)), SATURATED, 810);
    expect(answerOf(saturated).counts).toEqual(Array.from({ length: 801 }, () => SATURATED));
    expect(answerOf(saturated)["trouble"]).toMatch(/range/);
    const stuck = repeat(begin(repeat(readyBench(), 12_345, 300)), 12_345, 810);
    expect(answerOf(stuck).counts).toHaveLength(801);
    expect(answerOf(stuck)["trouble"]).not.toBeNull();
  });

  it("come of a line of bare numbers, which names nothing", () => {
    const bench = begin(new Bench(BARE).open().settle(), { lamps: true }).pull(10.2, 0);
    expect(answerOf(bench)).toMatchObject({ ended: "complete", dialect: "bare", board: null, rate: null, lamps: null });
  });

  it("name no scale where none fits what is on the line", () => {
    const none = begin(readyBench({ record: null })).pull(10.1, 0);
    expect(answerOf(none)).toMatchObject({ counts_per_N: null, zero_counts: null, zero_shift_N: null, noise_N: null });
    const other = begin(readyBench({ record: record({ amplifier: "ads1232" }) })).pull(10.1, 0);
    expect(answerOf(other)).toMatchObject({ counts_per_N: null, zero_counts: null });
  });
});

describe("while a self-test runs", () => {
  it("begin, zero, calibration and another self-test answer busy, keys and tags are refused, and sensor says so", () => {
    const bench = begin(readyBench()).pull(1, 0);
    expect(bench.ask("begin", { trainee: "otter-14" })).toMatchObject(BUSY);
    for (const verb of ["zero", "calibration-begin", "calibration-zero", "self-test"] as const) {
      expect(bench.ask(verb), verb).toMatchObject(BUSY);
    }
    bench.give({
      kind: "use",
      ask: {
        request_id: "use",
        request: { verb: "calibration-use", args: { station: "leg-press", calibration_id: "x" } },
        by: null,
        door: "socket",
      },
      record: record({ calibration_id: "6f2d1c1e-8a70-4f60-9d4c-2f1a0b9c7d22" }),
    });
    expect(bench.did("answer").at(-1)).toMatchObject({ request_id: "use", outcome: BUSY });
    for (const key of [1, 2]) {
      bench.press(key);
      expect(bench.did("log").at(-1)?.text).toContain("a self-test is running here");
    }
    bench.present("band-0142");
    expect(bench.did("log").at(-1)?.text).toContain("a self-test is running here");
    expect(bench.phase).toBe("idle");
    expect(bench.last("sensor")).toMatchObject({ ready: false, reasons: [expect.stringContaining("self-test")] });
    bench.pull(9.2, 0);
    expect(answerOf(bench, 1)["ended"]).toBe("complete");
    expect(bench.last("sensor")).toMatchObject({ ready: true, reasons: [] });
    bench.begin();
    expect(bench.phase).toBe("armed");
  });

  it("nothing that was is written to: a state can be stepped again", () => {
    const states: Station[] = [];
    const bench = begin(readyBench({ watch: (station) => states.push(frozen(station)) }), { lamps: true });
    bench.pull(10.1, 0);
    expect(answerOf(bench).counts).toHaveLength(801);
    expect(states.some(({ self_test }) => self_test?.readings === 400)).toBe(true);
  });

  it("the tracked zero goes on", () => {
    const bench = readyBench().pull(60, 0.4);
    const before = bench.last("sensor")["zero_shift_N"];
    begin(bench, { duration_s: 60 }).pull(60.1, 0.4);
    expect(answerOf(bench)["zero_shift_N"]).toBeGreaterThan(before as number);
  });
});

describe("a self-test is refused", () => {
  it("while a set is set up or runs, or a calibration is open", () => {
    const armed = readyBench().begin();
    expect(armed.ask("self-test")).toMatchObject({ ok: false, error: { code: "busy", hint: "End it first." } });
    const calibrating = readyBench();
    calibrating.ask("calibration-begin");
    expect(calibrating.ask("self-test")).toMatchObject({ ok: false, error: { code: "busy" } });
  });

  it("only where there are no readings at all", () => {
    const fault = { ok: false, error: { code: "sensor-fault", hint: expect.stringContaining("no readings") } };
    expect(new Bench().ask("self-test")).toMatchObject(fault);
    const closed = readyBench();
    closed.give({ kind: "closed" });
    expect(closed.ask("self-test")).toMatchObject(fault);
    expect(readyBench().wait(3).ask("self-test")).toMatchObject(fault);
  });
});

describe("a self-test always answers", () => {
  it("when the line is closed, with what there is", () => {
    const bench = begin(readyBench()).pull(4, 0);
    bench.give({ kind: "closed" });
    expect(answerOf(bench)).toMatchObject({ ended: "interrupted", trouble: expect.stringContaining("closed") });
    expect(answerOf(bench).counts).toHaveLength(320);
  });

  it("when the board starts anew, without a reading of afterwards", () => {
    const bench = begin(readyBench()).pull(4, 0);
    bench.board.restart();
    bench.listen();
    expect(answerOf(bench)["ended"]).toBe("interrupted");
    expect(answerOf(bench).counts).toHaveLength(320);
  });

  it("when the recorder stops", () => {
    const bench = begin(readyBench()).pull(4, 0);
    bench.give({ kind: "stopping" });
    expect(answerOf(bench)["ended"]).toBe("interrupted");
  });

  it.each([
    ["a tm1", {}],
    ["a bare", BARE],
  ] as const)("when nothing comes any more on %s line, soon", (_line, options) => {
    const bench = begin(new Bench(options).open().settle()).pull(4, 0);
    bench.wait(2.5);
    expect(answerOf(bench)["ended"]).toBe("silent");
    expect(answerOf(bench).counts).toHaveLength(320);
  });

  it("when the board says that its amplifier is silent", () => {
    const bench = begin(readyBench()).pull(4, 0);
    bench.board.fault("amplifier-silent");
    bench.listen();
    expect(answerOf(bench)).toMatchObject({ ended: "silent", trouble: expect.stringContaining("amplifier") });
  });

  it("of a board that is not the station's and falls silent, which nothing else watches", () => {
    const bench = new Bench({ station: { board: "another" } }).open().pull(3, 0);
    begin(bench).pull(2, 0).wait(2.5);
    expect(answerOf(bench)).toMatchObject({
      ended: "silent",
      trouble: expect.stringContaining("another"),
    });
    expect(answerOf(bench).counts).toHaveLength(160);
  });

  it("when the board's clock goes far too slowly, 5 s after it should have", () => {
    const bench = begin(readyBench({ host_speed: 4 }), { duration_s: 10 }).pull(3.4, 0);
    expect(bench.answer()).toBeNull();
    bench.pull(0.4, 0);
    expect(answerOf(bench)["ended"]).toBe("interrupted");
  });

  it("though the host stalls meanwhile: what waited is read and counts", () => {
    const bench = begin(readyBench()).pull(4, 0);
    bench.now_ms += 30_000;
    bench.pull(6.2, 0);
    expect(answerOf(bench)).toMatchObject({ ended: "complete" });
    expect(answerOf(bench).counts).toHaveLength(801);
  });
});

describe("lamps", () => {
  const litIn = (bench: Bench): string[] =>
    bench.board.heard.flatMap((line) => (line.kind === "lamp" && line.to === "on" ? [`lamp ${line.lamp}`] : []));

  it("are lit one after the other for a second each, and put back", () => {
    const bench = begin(readyBench(), { duration_s: 4, lamps: true });
    bench.pull(0.5, 0);
    expect(bench.board.lamps).toEqual({ 1: "on", 2: "off" });
    bench.pull(1, 0);
    expect(bench.board.lamps).toEqual({ 1: "off", 2: "on" });
    bench.pull(1, 0);
    expect(bench.board.lamps).toEqual({ 1: "off", 2: "off" });
    bench.pull(1.6, 0);
    const lamps = [
      { lamp: 1, answered_ms: expect.any(Number) },
      { lamp: 2, answered_ms: expect.any(Number) },
    ];
    expect(answerOf(bench)).toMatchObject({ ended: "complete", lamps });
  });

  it("have their time where device time runs ahead", () => {
    const bench = begin(readyBench({ host_speed: 0.1 }), { duration_s: 4, lamps: true }).pull(5, 0);
    expect(bench.answer()).toBeNull();
    bench.pull(17, 0);
    expect(answerOf(bench).counts).toHaveLength(321);
    expect(new Set(litIn(bench))).toEqual(new Set(["lamp 1", "lamp 2"]));
  });

  it("say how long the board took, and nothing of a board that does not answer", () => {
    const bench = readyBench();
    bench.board.ignores.add("lamp");
    begin(bench, { duration_s: 4, lamps: true }).pull(4.2, 0);
    const lamps = [
      { lamp: 1, answered_ms: null },
      { lamp: 2, answered_ms: null },
    ];
    expect(answerOf(bench)).toMatchObject({ ended: "complete", lamps });
  });

  it("are put back when the line goes in the middle, and after it came again", () => {
    const bench = begin(readyBench(), { lamps: true }).pull(0.5, 0);
    bench.give({ kind: "closed" });
    expect(answerOf(bench)["ended"]).toBe("interrupted");
    bench.open().pull(1, 0);
    expect(bench.board.lamps).toEqual({ 1: "off", 2: "off" });
  });

  it("stay dark where nobody asks for them", () => {
    const bench = begin(readyBench()).pull(10.1, 0);
    expect(litIn(bench)).toEqual([]);
    expect(answerOf(bench)["lamps"]).toBeNull();
  });
});
