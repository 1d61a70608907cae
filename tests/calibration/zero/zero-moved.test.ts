import { describe, expect, it } from "vitest";
import {
  convert,
  type Rig,
  type RigState,
  trueCountsPerN,
  trueZeroCounts,
  UNLOADED,
} from "../../../recorder/simulated-gym/rig.ts";
import { RATE_HZ, RestBench } from "./rest-bench.ts";
import { FACTS, ZeroBench } from "./zero-bench.ts";

/** d is 1 N; half a percent of capacity is 25 N. */
const rested = (): RestBench => new RestBench().read(0, 90);

describe("a zero that has stepped", () => {
  it("by half a percent of capacity in a set is told within 70 s of its end, and is not tracked", () => {
    const bench = rested().read(2000, 30, false);
    const ended_s = bench.at_s;
    bench.read(25, 70);
    expect(bench.alarms).toMatchObject([{ code: "zero-moved", on: true }]);
    expect(bench.alarms[0]?.at_s).toBeLessThan(ended_s + 70);
    expect(bench.alarms[0]?.detail).toBe(
      "The zero stands 25 N from where it last stood: take everything off; " +
        "if nothing is on it, inspect the cell and what holds it, then zero.",
    );
    expect(Math.abs(bench.read(25, 3600).shift_N)).toBeLessThan(0.1);
    expect(bench.alarms).toHaveLength(1);
  });

  it("downwards, or with nobody near, is the same", () => {
    expect(rested().read(2000, 30, false).read(-25, 70).standing).toEqual(["zero-moved"]);
    expect(rested().read(25, 70).standing).toEqual(["zero-moved"]);
  });

  it("needs a minute of stillness: movement begins it anew", () => {
    const bench = rested().read(25, 58).read(60, 1).read(25, 55);
    expect(bench.standing).toEqual([]);
    expect(bench.read(25, 15).standing).toEqual(["zero-moved"]);
  });

  it("is told from 8 d on", () => {
    expect(rested().read(7.9, 600).standing).toEqual([]);
    expect(rested().read(8.1, 70).standing).toEqual(["zero-moved"]);
  });

  it("by less is told where it has not gone back in half an hour, since tracking would never take it", () => {
    const bench = rested().read(5, 1790);
    expect(bench.standing).toEqual([]);
    expect(bench.read(5, 130).standing).toEqual(["zero-moved"]);
    expect(rested().read(2.9, 4000).standing).toEqual([]);
    // Whatever was done in between: a set begins the half hour anew.
    expect(rested().read(5, 1200).read(2000, 30, false).read(5, 1200).standing).toEqual([]);
  });

  it("is over ten seconds after it is back within 2 d, a bag taken away for one", () => {
    const bench = rested().read(40, 300);
    expect(bench.standing).toEqual(["zero-moved"]);
    bench.read(0.5, 9);
    expect(bench.standing).toEqual(["zero-moved"]);
    expect(bench.read(0.5, 6).standing).toEqual([]);
  });

  it("is no step where the sensor was never seen at rest, such as before a first zero is asked for", () => {
    expect(new RestBench().read(40, 600).standing).toEqual([]);
  });

  it("while the recorder was away is told too: the zero it saved is where the sensor stood", () => {
    const saved = { calibration_id: FACTS.calibration_id, shift_counts: 3000, asked_shift_counts: 0 };
    expect(new ZeroBench(FACTS, saved).read(28, 62).alarms()).toEqual(["zero-moved on"]);
    expect(new ZeroBench(FACTS, { ...saved, calibration_id: "another" }).read(28, 62).alarms()).toEqual([]);
  });

  it("beyond where tracking has come to its end is no step: another alarm stands for that", () => {
    const bench = new ZeroBench().read((s) => Math.min(0.02 * s, 120), 7200);
    expect(bench.alarms()).toEqual(["zero-out-of-range on"]);
  });

  it("still stands after the line was opened again, and goes with a zero that is asked for", () => {
    const bench = new ZeroBench().read(0, 20).read(20, 62);
    expect(bench.alarms()).toEqual(["zero-moved on"]);
    bench.give({ kind: "interrupted", detail: "The line was opened again." }).read(20, 120);
    expect(bench.alarms()).toEqual(["zero-moved on"]);
    bench.ask("z").read(20, 2);
    expect(bench.answer("z")?.ok).toBe(true);
    expect(bench.alarms()).toEqual(["zero-moved on", "zero-moved off"]);
    expect(bench.read(20, 300).alarms()).toHaveLength(2);
  });
});

describe("a zero that was asked for and had to be confirmed", () => {
  const confirmed = (): ZeroBench =>
    new ZeroBench().read(0, 20).ask("z").read(40, 1.2).ask("c", true, "tech-1").read(40, 2);

  it("raises the alarm, which stands until somebody has inspected the cell", () => {
    const bench = confirmed();
    expect(bench.answer("c")?.ok).toBe(true);
    const [alarm] = bench.effects.filter((effect) => effect.do === "alarm");
    expect(alarm?.do === "alarm" && alarm.detail).toBe(
      "Zeroed 40 N away from the former zero: inspect the cell and what holds it, then say that it was inspected.",
    );
    bench.read(40, 3600).ask("again").read(41, 2);
    expect(bench.answer("again")?.ok).toBe(true);
    expect(bench.alarms()).toEqual(["zero-moved on"]);
    bench.give({ kind: "inspected" });
    expect(bench.alarms()).toEqual(["zero-moved on", "zero-moved off"]);
    expect(bench.give({ kind: "inspected" }).alarms()).toHaveLength(2);
  });

  it("is still to be inspected after a restart, where that is what was kept", () => {
    const [on] = confirmed().effects.filter((effect) => effect.do === "alarm");
    expect(on).toMatchObject({ on: true, until_inspected: true });
    const saved = { calibration_id: FACTS.calibration_id, shift_counts: 40_000, asked_shift_counts: 40_000 };
    const moved = { since: "2026-11-23T17:00:00.000Z", detail: "Zeroed 40 N away from the former zero." };
    const again = new ZeroBench(FACTS, { ...saved, moved }).read(40, 120);
    // An ordinary zero does not end it, and a step beside it is not said again.
    expect(again.ask("again").read(41, 2).read(60, 120).alarms()).toEqual([]);
    again.give({ kind: "inspected" });
    expect(again.effects.at(-1)).toMatchObject({ do: "alarm", on: false, until_inspected: true });
    const other = new ZeroBench(
      { ...FACTS, calibration_id: "0192f0c1-2f5e-7a31-9c55-0242ac120003" },
      { ...saved, moved },
    );
    expect(other.give({ kind: "inspected" }).effects).toEqual([]);
  });

  it("is taken back with its zero where a hand was on it, and the history says why", () => {
    const bench = confirmed().read(0, 3);
    expect(bench.alarms()).toEqual(["zero-moved on", "zero-suspect on", "zero-moved off"]);
    expect(bench.effects.at(-1)).toMatchObject({ code: "zero-moved", on: false, until_inspected: true });
    expect(bench.effects.filter((effect) => effect.do === "save-zero")).toMatchObject([
      { cause: "asked", performed_by: "tech-1", zero: { shift_counts: 40_000 } },
      { cause: "restored", performed_by: null, zero: { shift_counts: 0 } },
    ]);
    // A hand on a second one does not hide that the first had moved far.
    const twice = confirmed().read(40, 60).ask("z2").read(90, 1.2).ask("c2", true).read(90, 2).read(40, 3);
    expect(twice.answer("c2")?.ok).toBe(true);
    expect(twice.alarms()).toEqual(["zero-moved on", "zero-moved on", "zero-suspect on"]);
  });

  it("a tracked zero says that nobody asked", () => {
    const [save] = new ZeroBench().read(1.5, 61).effects;
    expect(save).toMatchObject({ do: "save-zero", cause: "tracked", performed_by: null });
  });
});

describe("ordinary creep", () => {
  /**
   * OIML R 60-1:2021, 5.5.1: with 90 to 100 % of capacity on for 30 minutes, a class C cell may creep by 0.7 of the limit
   * of error, which is 0.7 x 1.5 v: 0.735 v, or 0.0735 % of capacity for a cell of 1000 intervals v.
   */
  const CREEP = 0.000735;
  const HARD_S = 1800;

  const rig = (creep: number, creep_s: number): Rig => ({
    cell_capacity_N: 5000,
    sensitivity_mV_per_V: 2,
    zero_mV_per_V: 0,
    excitation_V: 5,
    zero_drift_per_degC: 0,
    temperature_swing_degC: 0,
    temperature_swing_s: 3600,
    creep,
    creep_s,
    friction_N: 0,
    spikes_per_hour: 20,
    spike_counts: 400_000,
  });

  function afterHardSet(of: Rig, step_N: number): RestBench {
    const facts = { ...FACTS, zero_counts: trueZeroCounts(of, 128), counts_per_N: trueCountsPerN(of, 128) };
    const bench = new RestBench(0, facts);
    let state: RigState = UNLOADED;
    const run = (handle_N: number, seconds: number, idle: boolean): void => {
      for (let index = 0; index < seconds * RATE_HZ; index++) {
        const moment = { handle_N, elapsed_s: 1 / RATE_HZ, at_s: bench.at_s, gain: 128, rate: 10 } as const;
        const conversion = convert(of, state, moment, 3);
        state = conversion.state;
        bench.counts(conversion.counts, idle);
      }
    };
    run(0, 90, true);
    run(0.9 * 5000, HARD_S, false);
    run(step_N, 3600, true);
    return bench;
  }

  /** The part of a load at which just so much has crept after the half hour. */
  const partOf = (creep_s: number): number => CREEP / 0.9 / (1 - Math.exp(-HARD_S / creep_s));

  it.each([
    ["within minutes", partOf(100), 100],
    ["as in the gym", partOf(300), 300],
    ["slowly", partOf(900), 900],
    ["the other way", -partOf(300), 300],
  ])("of a class C cell after half an hour at nine tenths of capacity raises nothing: %s", (_how, creep, creep_s) => {
    const bench = afterHardSet(rig(creep, creep_s), 0);
    expect(bench.alarms).toEqual([]);
    expect(Math.abs(bench.shift_N)).toBeLessThan(2);
  });

  it("does not hide a step of half a percent", () => {
    const bench = afterHardSet(rig(partOf(300), 300), 25);
    expect(bench.standing).toEqual(["zero-moved"]);
    expect(bench.alarms[0]?.at_s).toBeLessThan(90 + HARD_S + 70);
  });
});
