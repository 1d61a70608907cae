import { describe, expect, it } from "vitest";
import type { Phase } from "../../../protocol/vocabulary.ts";
import {
  type Act,
  type DirectorState,
  nextActs,
  OPENING,
  type Plan,
} from "../../../recorder/simulated-gym/director.ts";
import { fatigueResistant, strongFastFatiguing } from "../../../recorder/simulated-gym/trainees.ts";

const OTTER = strongFastFatiguing("otter-1");
const HERON = fatigueResistant("heron-1");
const PLAN: Plan = {
  station: "leg-press",
  visits: [
    { trainee: OTTER, pause_s: 3, begun_by: { request: { trainee: "otter-1", fatigue_threshold: 0.4 } } },
    { trainee: HERON, pause_s: 10, begun_by: { key: 1 } },
  ],
  closes_after: null,
};

function say(act: Act): string {
  switch (act.do) {
    case "sit":
      return act.trainee === null ? "gets up" : `${act.trainee.code} sits`;
    case "begin":
      return `begin ${act.args.station} ${act.args.trainee ?? "nobody"} ${act.args.fatigue_threshold ?? "default"}`;
    case "press":
      return `key ${act.key}`;
    case "close":
      return "closed";
  }
}

/** Tells the director each phase at its time, as "at phase", and writes down what it does. */
function day(plan: Plan, moments: readonly (readonly [at_s: number, phase: Phase])[]): string[] {
  let state: DirectorState = Object.freeze(OPENING);
  const log: string[] = [];
  for (const [at_s, phase] of moments) {
    const step = nextActs(plan, state, { at_s, phase });
    state = Object.freeze(step.state);
    for (const act of step.acts) log.push(`${at_s} ${say(act)}`);
  }
  return log;
}

describe("the director", () => {
  it("seats the trainee, begins after the pause, waits for the end, and takes the next one", () => {
    expect(
      day(PLAN, [
        [0, "idle"],
        [2.9, "idle"],
        [3, "idle"],
        [3.2, "armed"],
        [5, "working"],
        [9, "resting"],
        [30, "working"],
        [40, "finished"],
        [45.9, "finished"],
        [46, "finished"],
        [55.9, "finished"],
        [56, "finished"],
        [56.1, "armed"],
        [180, "finished"],
        [186, "finished"],
        [189, "idle"],
      ]),
    ).toEqual([
      "3 otter-1 sits",
      "3 begin leg-press otter-1 0.4",
      "46 gets up",
      "56 heron-1 sits",
      "56 key 1",
      "186 gets up",
      "189 otter-1 sits",
      "189 begin leg-press otter-1 0.4",
    ]);
  });

  it("asks again when a begin came to nothing, or when a set was never started", () => {
    expect(
      day(PLAN, [
        [3, "idle"],
        [62.9, "idle"],
        [63, "idle"],
        [68, "idle"],
        [69, "armed"],
        [209, "idle"],
        [214, "idle"],
      ]),
    ).toEqual([
      "3 otter-1 sits",
      "3 begin leg-press otter-1 0.4",
      "63 gets up",
      "68 otter-1 sits",
      "68 begin leg-press otter-1 0.4",
      "209 gets up",
      "214 otter-1 sits",
      "214 begin leg-press otter-1 0.4",
    ]);
  });

  it("seats the trainee for a set that somebody else began", () => {
    expect(
      day(PLAN, [
        [1, "armed"],
        [30, "finished"],
        [36, "finished"],
      ]),
    ).toEqual(["1 otter-1 sits", "36 gets up"]);
  });

  it("closes after as many sets as it was told, and does nothing more", () => {
    expect(
      day({ ...PLAN, closes_after: 1 }, [
        [3, "idle"],
        [4, "working"],
        [30, "finished"],
        [36, "finished"],
        [400, "idle"],
        [500, "armed"],
      ]),
    ).toEqual(["3 otter-1 sits", "3 begin leg-press otter-1 0.4", "36 gets up", "36 closed"]);
  });
});
