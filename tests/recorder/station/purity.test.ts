/** The station is a value: no step writes to what it was given, and every input means something in every phase. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { PHASES, STYLES } from "../../../protocol/vocabulary.ts";
import { nextCheckpoint } from "../../../recorder/station/checkpoint.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { phaseOf } from "../../../recorder/station/state.ts";
import { stepStation } from "../../../recorder/station/station.ts";
import { inventedSet } from "../store/invented.ts";
import { Bench, holdCurve, KNOWN, readyBench, record, repetitions } from "./bench.ts";
import { drawnOf, runDrawn } from "./random-set.ts";

/** Freezes all that can be: typed arrays cannot. What is frozen already has been through here. */
function deepFreeze(value: unknown): void {
  if (typeof value !== "object" || value === null || Object.isFrozen(value) || ArrayBuffer.isView(value)) return;
  Object.freeze(value);
  for (const inner of Object.values(value)) deepFreeze(inner);
}

describe("inputs and states that cannot be written to", () => {
  const watch: NonNullable<ConstructorParameters<typeof Bench>[0]>["watch"] = (station, input) => {
    deepFreeze(station);
    deepFreeze(input);
  };

  it.each(STYLES)("survive a random session in the style %s", (style) => {
    fc.assert(
      fc.property(drawnOf(style), (drawn) => {
        const bench = runDrawn(drawn, { bench: { watch } });
        bench.ask("zero");
        bench.pull(2, 0).press(1).press(2);
        bench.board.restart();
        bench.listen().pull(1, 0);
        bench.give({ kind: "closed" });
        expect(bench.recorded.length).toBeGreaterThan(20);
      }),
      { seed: 7, numRuns: 3 },
    );
  });

  it("a step taken twice from one state says the same twice", () => {
    const bench = readyBench()
      .begin({ style: "hold", fatigue_threshold: 0.4 })
      .pull(0.5, 0)
      .pull(3, holdCurve(1000, 10, 0));
    const before = bench.station;
    bench.board.read(bench.countsOf(900));
    const input: StationInput = { kind: "line", text: bench.board.out[0] ?? "", arrived_at_us: bench.now_ms * 1000 };
    expect(stepStation(before, input, bench.now)).toEqual(stepStation(before, input, bench.now));
    expect(nextCheckpoint(before)).toEqual(nextCheckpoint(before));
  });
});

describe("every input in every phase", () => {
  const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;
  const MADE = {
    idle: () => readyBench(),
    armed: () => readyBench().begin(HOLD),
    working: () =>
      readyBench()
        .begin(HOLD)
        .pull(0.5, 0)
        .pull(3, holdCurve(1000, 10, 0)),
    resting: () =>
      readyBench()
        .begin({ style: "rest-pause" })
        .pull(0.5, 0)
        .pull(5, repetitions(5, 2, 800)),
    finished: () =>
      readyBench()
        .begin(HOLD)
        .pull(0.5, 0)
        .pull(8, holdCurve(1000, 3, 400)),
    "being calibrated": () => {
      const bench = readyBench();
      bench.ask("calibration-begin");
      bench.ask("calibration-zero");
      return bench.pull(1, 0);
    },
    "without a line": () => new Bench(),
  } as const;

  const ask = (verb: string, args: object = {}) =>
    ({
      request_id: "x",
      by: null,
      door: "socket",
      request: { verb, args: { station: "leg-press", ...args } },
    }) as never;
  const ASKS = ["end", "zero", "resting", "inspected", "calibration-begin", "calibration-zero", "calibration-abandon"];
  const INPUTS: readonly StationInput[] = [
    { kind: "calibration", record: record(), zero: null },
    { kind: "opened" },
    { kind: "closed" },
    { kind: "line", text: "", arrived_at_us: 1e10 },
    { kind: "line", text: "what is this", arrived_at_us: 1e10 },
    { kind: "line", text: "T,8,1000000,band-0142*D475", arrived_at_us: 1e10 },
    { kind: "line", text: "X,9,1012500,amplifier-silent*8302", arrived_at_us: 1e10 },
    { kind: "line", text: "H,0,1843,tm1,reference-avr/1.0.0,press-left,hx711,80,128,5e21*28F5", arrived_at_us: 1e10 },
    { kind: "silence" },
    { kind: "trouble", sentence: "It is gone." },
    { kind: "trouble", sentence: null },
    { kind: "tick" },
    { kind: "stopping" },
    { kind: "key-refused", asked: "end", why: "busy" },
    { kind: "tag-owner", tag: "band-0142", linked: "heron-07" },
    { kind: "tag-owner", tag: "a/b", linked: null },
    { kind: "revised", set: inventedSet(1) },
    { kind: "inspect", since: "2026-11-24T10:00:00.000Z", detail: "It was bent." },
    { kind: "storage", trouble: "The disk is full." },
    { kind: "storage", trouble: null },
    { kind: "announcing", code: "recorder-conflict", trouble: "Another one." },
    { kind: "begin", ask: ask("begin"), history: KNOWN, set_id: "01930000-0000-7000-8000-00000000ffff" },
    { kind: "accept", ask: ask("calibration-accept"), calibration_id: "01930000-0000-4000-8000-00000000ffff" },
    { kind: "ask", ask: ask("calibration-load", { mass_kg: 10 }) },
    ...ASKS.map((verb): StationInput => ({ kind: "ask", ask: ask(verb) })),
  ];

  it.each(Object.keys(MADE) as (keyof typeof MADE)[])("while %s", (phase) => {
    const bench = MADE[phase]();
    for (const input of INPUTS) {
      const { station, effects } = stepStation(bench.station, input, bench.now);
      expect(PHASES).toContain(phaseOf(station));
      // A set that is over is kept, or forgotten where it came to nothing: never neither.
      if (bench.station.set !== null && station.set?.path.facts.set_id !== bench.station.set.path.facts.set_id) {
        expect(effects.filter((effect) => effect.do === "keep" || effect.do === "forget")).toHaveLength(1);
      }
      const asked = input.kind === "ask" || input.kind === "begin" || input.kind === "accept";
      const mine = effects.filter((effect) => effect.do === "answer" && effect.request_id === "x");
      const waits =
        input.kind === "ask" &&
        ((input.ask.request.verb === "zero" && mine.length === 0) ||
          (input.ask.request.verb === "resting" && phase === "armed") ||
          (input.ask.request.verb.startsWith("calibration-") && phase === "being calibrated"));
      if (asked && !waits) expect(mine, JSON.stringify(input)).toHaveLength(1);
      expect(mine.length).toBeLessThanOrEqual(1);
    }
  });
});
