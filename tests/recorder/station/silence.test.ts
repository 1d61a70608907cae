/** No reading comes, whatever else does: by the host's time, on a line that is never quiet. */
import { describe, expect, it } from "vitest";
import { Bench, type BenchOptions, holdCurve, readyBench, record, UNNAMED } from "./bench.ts";

const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;
const DIALECTS: readonly (readonly [string, BenchOptions])[] = [
  ["tm1", {}],
  ["bare", { station: { dialect: "bare", board: undefined, style: "hold" }, record: record(UNNAMED) }],
];

const pulled = (options: BenchOptions): Bench =>
  readyBench(options)
    .begin(HOLD)
    .pull(0.5, 0)
    .pull(4, holdCurve(1000, 10, 0));

/** Lines that are none, 80 a second, as long as told. The board itself says nothing. */
function noise(bench: Bench, lasts_s: number): void {
  for (const kind of ["identify", "lamp", "gain", "rate"] as const) bench.board.ignores.add(kind);
  for (let index = 0; index < lasts_s * 80; index++) {
    bench.pass_us(12_500);
    bench.hear("Initialising HX711, please wait...");
  }
}

describe.each(DIALECTS)("a %s line of nothing but rejected lines", (_dialect, options) => {
  it("ends a set after a second, and its force", () => {
    const bench = pulled(options);
    noise(bench, 0.9);
    expect(bench.phase).toBe("working");
    noise(bench, 0.3);
    expect(bench.phase).toBe("finished");
    noise(bench, 1);
    expect(bench.set).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
    expect(bench.force_N).toBeNull();
    expect(bench.last("live")["force_N"]).toBeNull();
    expect(bench.last("sensor")).toMatchObject({ ready: false });
    expect(bench.alarm("sensor-fault")).toMatch(/No readings/);
  });

  it("is over with the next reading", () => {
    const bench = pulled(options);
    noise(bench, 2);
    bench.pull(0.1, 200);
    expect(bench.force_N).toBeCloseTo(200, 0);
    expect(bench.alarm("sensor-fault")).toBeNull();
  });

  it("is not silence among readings", () => {
    const bench = pulled(options);
    for (let index = 0; index < 160; index++) bench.pull(1 / 80, 1000).hear("?");
    expect(bench.phase).toBe("working");
  });

  it("what a stall has reached counts only when the loop has polled and found no reading", () => {
    const bench = readyBench(options).wait(0.95);
    bench.now_ms += 700;
    bench.give({ kind: "tick" });
    expect(bench.alarm("sensor-fault")).toBeNull();
    bench.give({ kind: "tick" });
    expect(bench.alarm("sensor-fault")).toMatch(/No readings/);
  });

  it("a host that stalls is not a silent board: a late tick counts no more than its share", () => {
    for (const stall_ms of [700, 1500, 60_000]) {
      const bench = readyBench(options);
      for (let turn = 0; turn < 20; turn++) {
        bench.now_ms += stall_ms;
        bench.give({ kind: "tick" });
        bench.give({ kind: "tick" });
        expect(bench.alarm("sensor-fault")).toBeNull();
        bench.pull(0.3, 0);
      }
    }
  });
});

describe("a line in trouble", () => {
  it.each(DIALECTS)("%s: loses the force, ends the set, and takes nothing on it for a reading", (_dialect, options) => {
    const bench = pulled(options);
    bench.give({ kind: "trouble", sentence: "/dev/press sends bytes that are not text: wrong baud rate?" });
    expect(bench.set).toMatchObject({ stop_reason: "sensor-fault", cut_short: true });
    expect(bench.force_N).toBeNull();
    expect(bench.alarm("sensor-fault")).toMatch(/baud/);
    expect(bench.pull(0.5, 300).force_N).toBeNull();
    bench.give({ kind: "trouble", sentence: null });
    expect(bench.pull(0.5, 300).force_N).toBeCloseTo(300, 0);
  });

  it("answers whoever waits for a zero", () => {
    const bench = readyBench();
    expect(bench.ask("zero")).toBeNull();
    bench.give({ kind: "trouble", sentence: "/dev/press sends bytes that are not text: wrong baud rate?" });
    expect(bench.answer()).toMatchObject({
      ok: false,
      error: { code: "sensor-fault", message: expect.stringMatching(/baud/) },
    });
  });
});

describe("an amplifier that was dead at power-up", () => {
  it.each(DIALECTS)("%s: is a reason at once and an alarm in the end", (_dialect, options) => {
    const bench = new Bench(options).open();
    expect(bench.last("sensor")).toMatchObject({ ready: false, reasons: ["No reading has come yet."] });
    expect(bench.ask("begin", HOLD)).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    bench.wait(4.9);
    expect(bench.alarm("sensor-fault")).toBeNull();
    bench.wait(0.3);
    expect(bench.alarm("sensor-fault")).toMatch(/No readings/);
    expect(bench.last("sensor")).toMatchObject({ ready: false, reasons: [expect.stringMatching(/No readings/)] });
    expect(bench.settle().alarm("sensor-fault")).toBeNull();
    expect(bench.last("sensor")).toMatchObject({ ready: true, reasons: [] });
  });

  it("is counted from the hello, and anew from each", () => {
    const bench = new Bench();
    bench.board.ignores.add("identify");
    bench.open().wait(8);
    expect(bench.alarm("sensor-fault")).toMatch(/did not answer the command identify/);
    bench.board.hello();
    bench.listen().wait(4);
    expect(bench.alarm("sensor-fault")).toBeNull();
    bench.board.restart();
    bench.listen().wait(4.9);
    expect(bench.alarm("sensor-fault")).toBeNull();
    expect(bench.wait(0.3).alarm("sensor-fault")).toMatch(/No readings/);
  });
});

it("readings that are set aside are no ground to begin on: doubt is a reason and a refusal", () => {
  const bench = readyBench();
  bench.board.ignores.add("identify");
  bench.board.lose(30_000);
  bench.pull(0.1, 0);
  expect(bench.last("sensor")).toMatchObject({ ready: false, reasons: [expect.stringMatching(/made no sense/)] });
  for (const verb of ["begin", "zero", "calibration-begin"] as const) {
    expect(bench.ask(verb)).toMatchObject({
      ok: false,
      error: { code: "sensor-fault", message: expect.stringMatching(/made no sense/) },
    });
  }
  bench.board.hello();
  bench.listen().settle();
  expect(bench.last("sensor")).toMatchObject({ ready: true, reasons: [] });
  expect(bench.ask("begin", HOLD)).toMatchObject({ ok: true });
});
