/** `ready` says what a begin as the station is configured would say; and what a board is set to is part of it. */
import { describe, expect, it } from "vitest";
import { Bench, readyBench, record, UNNAMED } from "./bench.ts";

const BARE = { station: { dialect: "bare", board: undefined, style: "hold" }, record: record(UNNAMED) } as const;
const slow = { rate_Hz: 10, board: { rate: 10 } } as const;

/** Set otherwise than the station wants, and deaf to it; `error` is what it answers, null nothing. */
function stubborn(setting: "gain" | "rate", error: string | null): Bench {
  const bench = new Bench({ board: setting === "gain" ? { gain: 64 } : { rate: 10 } });
  bench.board.ignores.add(setting);
  bench.open();
  if (error !== null) bench.board.say({ kind: "answer", command: lastOf(bench, setting), error });
  return bench.listen();
}
const lastOf = (bench: Bench, setting: "gain" | "rate"): number =>
  bench.board.heard.findLast((line) => line.kind === setting)?.command ?? 0;

describe("ready and begin agree", () => {
  it.each<readonly [string, () => Bench, string]>([
    ["closed", () => new Bench(), "sensor-fault"],
    ["no reading", () => new Bench().open(), "sensor-fault"],
    ["rate not known", () => new Bench().open().pull(1, 0), "sensor-fault"],
    ["in doubt", () => doubted(), "sensor-fault"],
    ["another board", () => new Bench({ board: { board: "press-right" } }).open().settle(), "sensor-fault"],
    ["no record", () => readyBench({ record: null }), "no-calibration"],
    ["a record of another amplifier", () => readyBench({ board: { amplifier: "ads1232" } }), "no-calibration"],
    ["too slow", () => readyBench({ ...slow, station: { rate: 10, style: "continuous" } }), "rate-too-low"],
    ["too slow for this style only", () => readyBench({ ...slow, station: { rate: 10, style: "hold" } }), ""],
    ["eccentric unseen", () => readyBench({ station: { style: "eccentric-only" } }), "not-suited"],
    ["being calibrated", () => calibrated(), "busy"],
    ["out of use", () => latched(), "not-permitted"],
    ["well", () => readyBench(), ""],
    ["well, on a bare line", () => readyBench(BARE), ""],
  ])("%s", (_what, made, code) => {
    const bench = made();
    const { ready, reasons } = bench.last("sensor") as { ready: boolean; reasons: string[] };
    const outcome = bench.ask("begin");
    expect(ready).toBe(code === "");
    expect(outcome?.ok).toBe(ready);
    if (outcome?.ok !== false) return;
    expect(outcome.error.code).toBe(code);
    expect(reasons[0]).toBe(outcome.error.message);
  });

  it("with the very reading that makes it so", () => {
    const bench = new Bench().open().pull(0.3, 0);
    while (bench.station.sensor.rate.rate_Hz === null) bench.pull(1 / 80, 0);
    expect(bench.last("sensor")).toMatchObject({ ready: true, reasons: [] });
  });

  const doubted = (): Bench => {
    const bench = readyBench();
    bench.board.ignores.add("identify");
    bench.board.lose(30_000);
    return bench.pull(0.1, 0);
  };
  const calibrated = (): Bench => {
    const bench = readyBench();
    bench.ask("calibration-begin");
    return bench;
  };
  const latched = (): Bench => {
    const bench = readyBench();
    bench.give({ kind: "inspect", since: "2026-11-24T09:00:00.000Z", detail: "The force reached 5200 N." });
    return bench;
  };
});

describe("a board that is set otherwise", () => {
  it("is a reason as long as it has not answered, and an alarm when it does not", () => {
    const bench = stubborn("rate", null).pull(1, 0);
    expect(bench.last("sensor")).toMatchObject({ ready: false, reasons: [expect.stringMatching(/is being set/)] });
    expect(bench.ask("begin", { style: "hold" })).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
    expect(bench.alarm("sensor-fault")).toBeNull();
    bench.pull(2, 0);
    expect(bench.last("sensor")).toMatchObject({ ready: false, reasons: [expect.stringMatching(/did not answer/)] });
    expect(bench.alarm("sensor-fault")).toMatch(/did not answer the command rate 80/);
    expect(bench.ask("begin", { style: "hold" })).toMatchObject({ ok: false, error: { code: "sensor-fault" } });
  });

  it.each(["gain", "rate"] as const)(
    "%s refused: an alarm, asked for again every 10 s until it is answered",
    (setting) => {
      const bench = stubborn(setting, "unknown-command");
      expect(bench.alarm("sensor-fault")).toMatch(/refused the command (gain 128|rate 80): unknown-command/);
      const asked = (): number =>
        new Set(bench.board.heard.flatMap((l) => (l.kind === setting ? [l.command] : []))).size;
      expect(asked()).toBe(1);
      bench.pull(9.8, 0);
      expect(asked()).toBe(1);
      bench.pull(0.4, 0);
      expect(asked()).toBe(2);
      bench.board.ignores.delete(setting);
      expect(bench.alarm("sensor-fault")).not.toBeNull();
      bench.board[setting] = setting === "gain" ? 128 : 80;
      bench.board.say({ kind: "answer", command: lastOf(bench, setting), error: null });
      expect(bench.listen().alarm("sensor-fault")).toBeNull();
      bench.pull(25, 0);
      expect(asked()).toBe(2);
    },
  );

  it("that is another after a restart has nothing left of it", () => {
    const bench = stubborn("rate", "unknown-command").settle();
    bench.board.rate = 80;
    bench.board.restart();
    expect(bench.listen().settle().alarm("sensor-fault")).toBeNull();
    expect(bench.last("sensor")).toMatchObject({ ready: true });
  });
});
