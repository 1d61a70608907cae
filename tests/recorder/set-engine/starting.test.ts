/** How a set begins: the onset, the release, the shortest effort, and how armed ends. */
import { describe, expect, it } from "vitest";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import { onsetForce_N } from "../../../recorder/set-engine/setup.ts";
import { corners, plateaus, reading, readingsOf, resultOf, run, runTrace, setupOf, together, toldOf } from "./run.ts";

describe("the onset", () => {
  it.each([
    ["at least 20 N", { noise_N: 0.1, cell_capacity_N: 500, idle_stroke_N: 1 }, 20],
    ["8 x noise", { noise_N: 5, cell_capacity_N: 500, idle_stroke_N: 1 }, 40],
    ["1 % of capacity", { noise_N: 0.1, cell_capacity_N: 5000, idle_stroke_N: 1 }, 50],
    ["twice the idle stroke", { noise_N: 0.1, cell_capacity_N: 500, idle_stroke_N: 45 }, 90],
  ])("is the greatest of four: %s", (_, facts, expected_N) => {
    expect(onsetForce_N(facts)).toBe(expected_N);
  });

  it.each([
    [19.99, "armed"],
    [20, "exerting"],
    [20.01, "exerting"],
  ])("is met by %f N: %s", (force_N, is) => {
    const ran = run(setupOf({ style: "continuous" }), [reading(0, 0), reading(12_500, force_N)]);
    expect(ran.state.is).toBe(is);
  });

  it.each(["hold", "continuous"] as const)("is crossed, never just exceeded, in %s", (style) => {
    const leaning = runTrace({ style }, { force: () => 300, lasts_s: 20 });
    expect(leaning.state.is).toBe("armed");
    expect(leaning.told).toEqual([]);
    const back = runTrace({ style }, { force: corners([3, 300], [3.1, 19.9], [3.2, 300]), lasts_s: 3.3 });
    expect(back.state.is).not.toBe("armed");
  });

  it("is placed on the straight line between two readings", () => {
    const inputs = [reading(0, 0), reading(10_000, 80), ...readingsOf({ force: () => 80, lasts_s: 3 }).slice(1)];
    const ended = run(setupOf({ style: "continuous" }), [...inputs.filter(after(10_000)), end(3_000_000)]);
    expect(resultOf(ended).onset_us).toBe(2500);
  });
});

const end = (at_us: number): EngineInput => ({ kind: "end", at_us, because: null });
const after = (from_us: number) => (input: EngineInput) => input.at_us === 0 || input.at_us >= from_us;

/** 20 N reached at 10 ms; 12 N, the release, at `end_us`; under it one reading later. */
function effortUntil(end_us: number): EngineInput[] {
  const inputs = [reading(0, 0), reading(10_000, 20)];
  for (let at_us = 20_000; at_us < end_us; at_us += 10_000) inputs.push(reading(at_us, 50));
  return [...inputs, reading(end_us, 12), reading(end_us + 10_000, 0), reading(end_us + 20_000, 0)];
}

describe("an effort", () => {
  const setup = setupOf({ style: "continuous", reading_rate_Hz: 100 });

  it("runs on at 60 % of the onset and ends under it", () => {
    const until = effortUntil(1_000_000);
    expect(run(setup, until.slice(0, -2)).told).toHaveLength(1);
    const ended = run(setup, until).told.find(({ effect }) => effect.do === "effort")?.effect;
    if (ended?.do !== "effort") throw new Error("no effort");
    expect(ended.effort).toMatchObject({ start_us: 10_000, end_us: 1_000_000 });
  });

  it.each([
    [309_999, ["working", "armed"]],
    [310_000, ["working", "effort", "resting"]],
    [310_001, ["working", "effort", "resting"]],
  ])("lasts 0.3 s or was none: from 10 ms to %i us", (end_us, told) => {
    expect(toldOf(run(setup, effortUntil(end_us)))).toEqual(told);
  });

  it("too short to be one leaves the set armed, and the next crossing begins it", () => {
    const ran = runTrace(
      { style: "continuous" },
      {
        force: plateaus([
          [1, 0.2, 400],
          [2, 1, 400],
        ]),
        lasts_s: 4,
      },
    );
    expect(toldOf(ran)).toEqual(["working", "armed", "working", "effort", "resting"]);
  });
});

describe("armed", () => {
  it.each([
    [179_999_999, "armed"],
    [180_000_000, "disarmed"],
  ])("lasts 180 s: at %i us it is %s", (at_us, is) => {
    const ran = run(setupOf({}), [reading(0, 0), reading(at_us, 0)]);
    expect(ran.state.is).toBe(is);
    if (is === "disarmed") expect(ran.told[0]?.effect).toEqual({ do: "disarmed", because: "time-out" });
  });

  it("counts its 180 s from arming, false starts or not", () => {
    const ran = runTrace({}, { force: plateaus([[100, 1, 400]]), lasts_s: 181 });
    expect(toldOf(ran)).toEqual(
      ["working", "sudden-loss", "false-start", "armed", "disarmed"].filter((told) => told !== "sudden-loss"),
    );
    expect(ran.told.at(-1)?.at_s).toBe(180);
  });

  const ENDINGS = [
    [{ kind: "end", at_us: 1_200_000, because: "pain" }, "on-request"],
    [{ kind: "fault", at_us: 1_200_000, fault: "overload" }, "overload"],
    [{ kind: "fault", at_us: 1_200_000, fault: "sensor-fault" }, "sensor-fault"],
    [{ kind: "silence", at_us: 1_200_000 }, "sensor-fault"],
    [{ kind: "interrupted", at_us: 1_200_000 }, "interrupted"],
  ] as const satisfies readonly (readonly [EngineInput, string])[];

  it.each(ENDINGS)("ends without a set: %o", (input, because) => {
    const resting = readingsOf({ force: () => 0, lasts_s: 1.1 });
    const ran = run(setupOf({}), together(resting, input));
    expect(ran.state).toEqual({ is: "disarmed" });
    expect(ran.told.map(({ effect }) => effect)).toEqual([{ do: "disarmed", because }]);
  });

  it.each(ENDINGS)("so does a set before any counted effort: %o", (input, because) => {
    for (const style of ["hold", "continuous", "rest-pause"] as const) {
      const begun = readingsOf({ force: corners([1, 0], [1.05, 300]), lasts_s: 1.2 });
      const ran = run(setupOf({ style }), together(begun, input));
      expect(ran.told.at(-1)?.effect, style).toEqual({ do: "disarmed", because });
      expect(ran.result, style).toBeNull();
    }
  });
});
