/** A begin and a plan, laid over each other. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Plan } from "../../../protocol/requests/plan.ts";
import type { SetOfToday } from "../../../recorder/record-ports.ts";
import { planned, restWarning } from "../../../recorder/station/planned.ts";
import { BLANK_PLAN } from "./blank-plan.ts";

const STATION = "leg-press";
const ARGS = { station: STATION, trainee: "otter-14" } as const;
const plan = (says: Partial<Plan>): Plan => ({ ...BLANK_PLAN, ...says });
const done = (...sides: readonly SetOfToday["side"][]): SetOfToday[] => sides.map((side) => ({ side }));
const args = (says: Partial<Plan>, today: readonly SetOfToday[] = [], asked: object = {}) =>
  planned({ ...ARGS, ...asked }, plan(says), today).args;

describe("without a plan", () => {
  it("a begin stays as it was asked", () => {
    expect(planned(ARGS, null, [])).toEqual({ args: ARGS, setup: null, rest_s: null });
  });

  it("one that says nothing adds nothing but that there is one", () => {
    expect(planned(ARGS, BLANK_PLAN, [])).toEqual({ args: { ...ARGS, warm_up: false }, setup: {}, rest_s: null });
  });
});

describe("the side", () => {
  it.each([
    [["left", "right"], [], "left"],
    [["left", "right"], ["left"], "right"],
    [["left", "right"], ["left", "right"], "left"],
    [["right", "left"], [], "right"],
    [["both"], ["both", "both"], "both"],
    // What was done without a side, or on one that is not trained, does not turn the order.
    [["left", "right"], ["left", null], "right"],
    [["left", "right"], ["left", "both"], "right"],
  ] as const)("of %j after %j today is %s", (sides, today, side) => {
    expect(args({ sides: [...sides] }, done(...today)).side).toBe(side);
  });

  it("is not named where the plan names none, and as asked where it was asked", () => {
    expect(args({}, done("left"))).not.toHaveProperty("side");
    expect(args({ sides: ["left", "right"] }, [], { side: "right" }).side).toBe("right");
    expect(args({ sides: ["left", "right"] }, [], { side: "both" }).side).toBe("both");
  });
});

describe("warm-ups", () => {
  const warm_up = { sets: 1, fatigue_threshold: 0.15 };
  const sides: Plan["sides"] = ["left", "right"];

  it("are the first sets of the day on each side, to their own loss", () => {
    const says = { sides, warm_up, fatigue_threshold: 0.4 };
    const day = [[], ["left"], ["left", "right"], ["left", "right", "left"]] as const;
    expect(day.map((today) => args(says, done(...today)))).toMatchObject([
      { side: "left", warm_up: true, fatigue_threshold: 0.15 },
      { side: "right", warm_up: true, fatigue_threshold: 0.15 },
      { side: "left", warm_up: false, fatigue_threshold: 0.4 },
      { side: "right", warm_up: false, fatigue_threshold: 0.4 },
    ]);
  });

  it("end where the others do, if they have no loss of their own", () => {
    const says = { warm_up: { sets: 2, fatigue_threshold: null }, fatigue_threshold: 0.4 };
    expect(args(says, done(null))).toMatchObject({ warm_up: true, fatigue_threshold: 0.4 });
    expect(args(says, done(null, null))).toMatchObject({ warm_up: false });
  });

  it("are what the request says they are", () => {
    expect(args({ warm_up, fatigue_threshold: 0.4 }, [], { warm_up: false })).toMatchObject({
      warm_up: false,
      fatigue_threshold: 0.4,
    });
    expect(args({ warm_up }, done(null, null), { warm_up: true })).toMatchObject({ fatigue_threshold: 0.15 });
  });
});

describe("request, side and plan", () => {
  const threshold = fc.constantFrom(undefined, 0.2, 0.3, 0.4, 0.5);
  const grace = fc.constantFrom(undefined, 0.5, 1, 2);
  const intent = fc.constantFrom(undefined, "maximal" as const, "held" as const);
  const level = fc.record({ fatigue_threshold: threshold, grace_s: grace, intent });
  const without = (one: object): object =>
    Object.fromEntries(Object.entries(one).filter(([, value]) => value !== undefined));
  const said = ({ grace_s, ...rest }: { grace_s: number | undefined }): object => ({
    ...without(rest),
    ...(grace_s === undefined ? {} : { options: { grace_s } }),
  });

  it("whoever comes first has the word, figure by figure", () => {
    fc.assert(
      fc.property(level, level, level, (asked, side, all) => {
        const by_side = { left: said(side) } as Plan["by_side"];
        const base = { ...plan({ sides: ["left"], by_side }), ...said(all) } as Plan;
        const { args: made } = planned({ ...ARGS, ...said(asked) }, base, []);
        expect(made.fatigue_threshold).toBe(asked.fatigue_threshold ?? side.fatigue_threshold ?? all.fatigue_threshold);
        expect(made.intent).toBe(asked.intent ?? side.intent ?? all.intent);
        expect(made.options?.grace_s).toBe(asked.grace_s ?? side.grace_s ?? all.grace_s);
      }),
    );
  });

  it("notes are laid over each other one by one, and the other side's are not", () => {
    const says = {
      setup: { seat: "4", pin: "7" },
      by_side: { left: { setup: { pin: "6" } }, right: { setup: { pin: "9" } } },
    };
    expect(planned({ ...ARGS, side: "left" }, plan(says), []).setup).toEqual({ seat: "4", pin: "6" });
    expect(planned(ARGS, plan(says), []).setup).toEqual({ seat: "4", pin: "7" });
  });
});

describe("rest", () => {
  const NOW_MS = Date.parse("2026-11-24T10:10:00.000Z");
  const rested = (rest_s: number | null, ended: string | null) =>
    restWarning({ args: ARGS, setup: {}, rest_s }, ended, NOW_MS);

  it("that was shorter than planned is said with both figures", () => {
    expect(rested(180, "2026-11-24T10:07:00.001Z")).toEqual([
      "otter-14 has rested 179 s since the last set; the plan says 180 s.",
    ]);
  });

  it.each([
    [180, "2026-11-24T10:07:00.000Z"],
    [180, null],
    [null, "2026-11-24T10:09:59.000Z"],
    // The clock was set back since.
    [180, "2026-11-24T10:20:00.000Z"],
  ])("of %j since %j is nothing to say", (rest_s, ended) => {
    expect(rested(rest_s, ended)).toEqual([]);
  });
});
