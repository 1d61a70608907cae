/** Plans as they are changed, and what they may not say. */
import { describe, expect, it } from "vitest";
import { planSchema } from "../../../protocol/requests/plan.ts";
import { changedPlan, type PlanChanges } from "../../../recorder/station/changed-plan.ts";
import { faultOfPlan } from "../../../recorder/station/plan-faults.ts";
import { setupNotesOf, setupText } from "../../../recorder/station/setup-notes.ts";
import { stationConfiguration } from "./bench.ts";

const OWNER = { station: "leg-press", trainee: "otter-14", saved_at: "2026-11-24T10:00:00.000Z", performed_by: "P-01" };
const changed = (...changes: readonly PlanChanges[]) =>
  changes.reduce<ReturnType<typeof changedPlan>>((known, change) => changedPlan(known, change, OWNER), null);

describe("a plan that is changed", () => {
  it("keeps what is left out, and says what is said", () => {
    const plan = changed(
      { sides: ["left", "right"], fatigue_threshold: 0.4 },
      { fatigue_threshold: 0.35, rest_s: 180 },
    );
    expect(plan).toMatchObject({
      ...OWNER,
      sides: ["left", "right"],
      fatigue_threshold: 0.35,
      rest_s: 180,
      style: null,
    });
    expect(planSchema.safeParse(plan).error?.issues).toBeUndefined();
  });

  it("loses what is null, note by note and option by option", () => {
    const full = {
      setup: { seat: "4", pin: "7" },
      options: { grace_s: 2, effort_limit: 8 },
      by_side: { left: { fatigue_threshold: 0.2, setup: { pin: "6" } }, right: { intent: "held" } },
    } as const;
    expect(changed(full, { setup: { pin: null, handle: "wide" }, options: { grace_s: null } })).toMatchObject({
      setup: { handle: "wide", seat: "4" },
      options: { effort_limit: 8 },
      by_side: full.by_side,
    });
    expect(changed(full, { setup: null, options: null })).toMatchObject({ setup: {}, options: {} });
    expect(changed(full, { by_side: { left: { setup: null }, right: null } })?.by_side).toEqual({
      left: { fatigue_threshold: 0.2 },
    });
    expect(changed(full, { by_side: { left: { fatigue_threshold: null, setup: { pin: null } } } })?.by_side).toEqual({
      right: { intent: "held" },
    });
  });

  it("is none once it says nothing any more", () => {
    expect(changed({ sides: [] })).toBeNull();
    expect(changed({ note: "slow" }, { note: null })).toBeNull();
    expect(changed({ by_side: { left: { intent: "held" } } }, { by_side: { left: null } })).toBeNull();
    expect(changed({ warm_up: { sets: 1, fatigue_threshold: null } })).not.toBeNull();
  });

  it("does not write to the one before", () => {
    const known = changed({ setup: { seat: "4" }, by_side: { left: { intent: "held" } } });
    const was = structuredClone(known);
    changedPlan(known, { setup: { seat: null }, by_side: { left: null }, note: "x" }, OWNER);
    expect(known).toEqual(was);
  });
});

describe("what a station cannot show, no plan may ask of it", () => {
  const fault = (changes: PlanChanges, station: object) => {
    const plan = changed(changes);
    if (plan === null) throw new Error("no plan");
    return faultOfPlan(plan, stationConfiguration(station))?.code ?? null;
  };

  it.each<[string, PlanChanges, object, string | null]>([
    ["a loss on a stack", { fatigue_threshold: 0.4 }, { resistance: "stack" }, "not-suited"],
    ["a loss of one side", { by_side: { left: { fatigue_threshold: 0.4 } } }, { resistance: "stack" }, "not-suited"],
    ["a loss of warm-ups", { warm_up: { sets: 1, fatigue_threshold: 0.2 } }, { resistance: "stack" }, "not-suited"],
    [
      "no loss on a stack",
      { setup: { seat: "4" }, warm_up: { sets: 1, fatigue_threshold: null } },
      { resistance: "stack" },
      null,
    ],
    [
      "a loss of repetitions on a spring",
      { style: "continuous", fatigue_threshold: 0.4 },
      { resistance: "elastic" },
      "not-suited",
    ],
    ["a loss of a hold on a spring", { style: "hold", fatigue_threshold: 0.4 }, { resistance: "elastic" }, null],
    ["a loss where a motor sets the speed", { fatigue_threshold: 0.4 }, { resistance: "driven" }, null],
  ])("%s", (_what, changes, station, code) => {
    expect(fault(changes, station)).toBe(code);
  });
});

describe("notes as text", () => {
  it("are equal where they are, in whatever order they were written", () => {
    expect(setupText({ seat: "4", pin: "7" })).toBe(setupText({ pin: "7", seat: "4" }));
    expect(setupText({ seat: "4" })).not.toBe(setupText({ seat: "5" }));
    expect(setupText({})).toBe("");
  });

  it.each([{}, { seat: "4" }, { "pin, left": 'a "7"', seat: "ä" }])("%j come back", (notes) => {
    expect(setupNotesOf(setupText(notes))).toEqual(notes);
  });

  it.each(["{", "[]", "null", "7", '"seat"', '{"seat":4}'])("none are in %s", (text) => {
    expect(setupNotesOf(text)).toEqual({});
  });
});
