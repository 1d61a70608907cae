/** Every branch of the advice, each by a history one can read; and which comes first. */
import { describe, expect, it } from "vitest";
import type { Day, Series } from "../../../recorder/progress/series.ts";
import type { Rules } from "../../../recorder/progress/trend.ts";
import { adviceOn, dateOf, scattered, visit, visits } from "./series.ts";

/** Of a trainee whose days differ by 3 %. */
const KNOWN: Partial<Rules> = { known_typical_error: 0.03 };
const on = (days: readonly Day[], changes: Partial<Series> = {}, rules: Partial<Rules> = KNOWN) =>
  adviceOn(days, changes, rules);
const STEADY = [1000, 1005, 995, 1000, 1002, 998];
const RISEN = [1000, 1005, 995, 1100, 1110, 1120];
const FALLEN = [1000, 1005, 995, 1000, 1002, 850];
const at = (fatigue_threshold: number | null) => () => ({ fatigue_threshold });
const withNewest = (days: readonly Day[], changes: Partial<Day>): Day[] =>
  days.map((day, index) => (index === days.length - 1 ? { ...day, ...changes } : day));

describe("nothing to say yet", () => {
  it("without a set", () => {
    expect(on([])).toMatchObject({ advice: "too-few-sets", fatigue_threshold: null });
  });

  it.each([1, 2, 3, 4])("of %d days, whatever they rose by", (count) => {
    const advice = on(visits([1000, 1300, 1600, 1900].slice(0, count)));
    expect(advice).toMatchObject({ advice: "too-few-sets", fatigue_threshold: null });
    expect(advice.reasons).toHaveLength(1);
    expect(advice.reasons[0]).toContain("it takes 5");
  });

  it("five are enough", () => expect(on(visits(STEADY.slice(1))).advice).toBe("keep"));
});

describe("lower-threshold: the dose has done its work", () => {
  it("from 40 to 35 %, with what rose, by how much, and beyond what", () => {
    const advice = on(visits(RISEN));
    expect(advice).toMatchObject({ advice: "lower-threshold", fatigue_threshold: 0.35 });
    expect(advice.reasons).toEqual([
      "Best rose by 11.0 % at this threshold, from 1000 N (the first 3 days, from 2026-01-01) to 1110 N (the newest 3): more than the 4.9 % that chance and measurement make, at 2 visits in a row.",
      "The dose has done its work: a loss of 35 % instead of 40 % costs less, and may do.",
    ]);
    expect(advice.limits.at(-1)).toBe("The trainer decides.");
  });

  it("not at the first visit that shows it", () => {
    expect(on(visits([1000, 1005, 995, 1000, 1000, 1250])).advice).toBe("keep");
    expect(on(visits([1000, 1005, 995, 1000, 1000, 1250, 1250])).advice).toBe("lower-threshold");
    expect(on(visits([1000, 1005, 995, 1000, 1000, 1250]), {}, { ...KNOWN, improved_visits: 1 }).advice).toBe(
      "lower-threshold",
    );
  });

  it.each([
    [0.4, 0.35],
    [0.35, 0.3],
    [0.3, 0.25],
    [0.25, 0.2],
    [0.22, 0.2],
    [0.21, 0.2],
  ])("from %d to %d, and never below a fifth", (from, to) => {
    expect(on(visits(RISEN, at(from)))).toMatchObject({ advice: "lower-threshold", fatigue_threshold: to });
  });

  it.each([0.2, 0.204, 0.15])("keeps %d", (threshold) => {
    const advice = on(visits(RISEN, at(threshold)));
    expect(advice).toMatchObject({ advice: "keep", fatigue_threshold: threshold });
    expect(advice.reasons).toHaveLength(2);
    expect(advice.reasons[1]).toBe("The threshold is at 20 % already, and none lower is advised.");
  });

  it("has no step down from no threshold", () => {
    expect(on(visits(RISEN, at(null)))).toMatchObject({ advice: "keep", fatigue_threshold: null });
  });

  it("by the work done to the same loss, where their own scatter of it is known", () => {
    const bests = scattered(4, 24, 0.02);
    const work = scattered(6, 24, 0.05, (index) => (index < 18 ? 10 : 14));
    const worked = visits(bests, (index) => ({ impulse_N_s: work[index]! }));
    const advice = on(worked);
    expect(advice).toMatchObject({ advice: "lower-threshold", fatigue_threshold: 0.35 });
    expect(advice.reasons[0]).toMatch(/^Impulse to the same loss rose by .* N s /);
    // The same work from a best that went down is only a lower start, and mean force alone is a part of it.
    const lower = worked.map((day, index) => (index < 18 ? day : { ...day, best_force_N: day.best_force_N! * 0.93 }));
    expect(on(lower).advice).not.toBe("lower-threshold");
    const mean = worked.map((day) => ({ ...day, impulse_N_s: null, mean_force_N: day.impulse_N_s! / 20 }));
    expect(on(mean).advice).toBe("keep");
  });

  it("not by what another threshold brought: an improvement counts within a dose", () => {
    const stepped = visits([900, 905, 895, 900, 905, 1000, 1005, 995, 1000, 1002], (index) => ({
      fatigue_threshold: index < 5 ? 0.4 : 0.35,
    }));
    expect(on(stepped)).toMatchObject({ advice: "keep", fatigue_threshold: 0.35 });
  });
});

describe("keep", () => {
  it("while nothing has got better by more than chance", () => {
    const advice = on(visits(STEADY));
    expect(advice).toMatchObject({ advice: "keep", fatigue_threshold: 0.4 });
    expect(advice.reasons).toEqual([
      "Over 6 comparable days at this threshold since 2026-01-01 nothing has got better by more than chance, or not at two visits in a row.",
    ]);
  });

  it("a new dose, until five days tell what it does", () => {
    const days = (count: number) =>
      visits([...STEADY, ...RISEN].slice(0, 6 + count), (index) => ({ fatigue_threshold: index < 6 ? 0.4 : 0.35 }));
    const advice = on(days(4));
    expect(advice).toMatchObject({ advice: "keep", fatigue_threshold: 0.35 });
    expect(advice.reasons[0]).toBe(
      `This threshold is new: 4 comparable days with it since ${dateOf(24)}, and it takes 5 over 14 days or more to see what it does.`,
    );
    expect(on(days(5)).reasons[0]).not.toContain("new");
  });

  it("a dose of less than two weeks, however often they came", () => {
    const every = (offsets: readonly number[]) => visits(RISEN, undefined, (index) => offsets[index]!);
    expect(on(every([0, 2, 5, 8, 11, 13]))).toMatchObject({ advice: "keep", fatigue_threshold: 0.4 });
    expect(on(every([0, 2, 5, 8, 11, 13])).reasons[0]).toMatch(/^This threshold is new: 6 comparable days/);
    expect(on(every([0, 2, 5, 8, 11, 14])).advice).toBe("lower-threshold");
  });

  it("what the plan says by now, where the newest set was to another loss", () => {
    const advice = on(visits(RISEN), { plan: { fatigue_threshold: 0.3, rest_s: null } });
    expect(advice).toMatchObject({ advice: "keep", fatigue_threshold: 0.3 });
    expect(advice.reasons).toEqual(["The plan says 30 % by now, and the newest set was to 40 %: see how it goes."]);
    const none = on(visits(RISEN, at(null)), { plan: { fatigue_threshold: 0.3, rest_s: null } });
    expect(none.reasons[0]).toContain("to no loss");
  });

  it("goes on to a step where the plan says what was done, or leaves it open", () => {
    for (const fatigue_threshold of [0.4, null]) {
      expect(on(visits(RISEN), { plan: { fatigue_threshold, rest_s: null } }).advice).toBe("lower-threshold");
    }
  });
});

describe("today below the record", () => {
  const planned = (rest_s: number | null, rested_s: number | null, days = visits(FALLEN)) =>
    on(days, { plan: { fatigue_threshold: null, rest_s }, rested_s });

  it("after a shorter rest than planned: longer-rest", () => {
    const advice = planned(180, 120);
    expect(advice).toMatchObject({ advice: "longer-rest", fatigue_threshold: 0.4 });
    expect(advice.reasons[0]).toMatch(
      /^Best of 2026-01-21 was 15 % below what the record predicts: 850 N instead of 100\d N/,
    );
    expect(advice.reasons[1]).toBe("They had rested 120 s, and the plan says 180 s.");
  });

  it("on the day after: longer-rest, on the second day no more", () => {
    const dayLater = (gap: number) => visits(FALLEN, undefined, (index) => (index < 5 ? 4 * index : 16 + gap));
    expect(on(dayLater(1))).toMatchObject({ advice: "longer-rest", fatigue_threshold: 0.4 });
    expect(on(dayLater(1)).reasons[1]).toBe("It was the day after the last visit.");
    expect(on(dayLater(2)).advice).toBe("ease-off");
  });

  it.each([
    [180, 180],
    [180, 200],
    [180, null],
    [null, 20],
  ])("else ease-off: planned %j s, rested %j s", (rest_s, rested_s) => {
    const advice = planned(rest_s, rested_s);
    expect(advice).toMatchObject({ advice: "ease-off", fatigue_threshold: 0.4 });
    expect(advice.reasons[1]).toContain("Rest before it was as usual");
  });

  it("not while it lies within chance", () => {
    expect(on(visits([...STEADY.slice(0, 5), 950])).advice).toBe("keep");
    // Published, 9 %: 15 % down is no proof of anything.
    expect(on(visits(FALLEN), {}, {}).advice).toBe("keep");
  });

  it("leaves the threshold to what was improved: a bad day raises none", () => {
    const advice = on(visits([1000, 1005, 995, 1300, 1310, 1320, 1050]));
    expect(advice).toMatchObject({ advice: "ease-off", fatigue_threshold: 0.35 });
    expect(advice.reasons[0]).toMatch(/below what the record predicts/);
    expect(advice.reasons[2]).toMatch(/^Best rose by/);
    expect(on(visits([1000, 1005, 995, 1010, 1000, 1005, 850]))).toMatchObject({ fatigue_threshold: 0.4 });
  });

  it.each([0.3, 0.45])("and a plan that says %d by now still says it", (fatigue_threshold) => {
    const advice = on(visits(FALLEN), { plan: { fatigue_threshold, rest_s: null } });
    expect(advice).toMatchObject({ advice: "ease-off", fatigue_threshold });
  });
});

describe("none: silent, and why", () => {
  const silent = (days: readonly Day[], changes: Partial<Series>, why: RegExp | string) => {
    const advice = on(days, changes);
    expect(advice).toMatchObject({ advice: "none", fatigue_threshold: null });
    expect(advice.reasons).toHaveLength(1);
    expect(advice.reasons[0]).toMatch(why);
  };

  it("held sets", () => silent(visits(RISEN), { intent: "held" }, /^The sets are held/));
  it("a machine that shows no loss", () => silent(visits(RISEN), { threshold_meant: false }, /^Force shows no loss/));
  it("a set ended for pain", () =>
    silent(withNewest(visits(RISEN), { ended_because: "pain" }), {}, `A set of ${dateOf(20)} was ended for pain`));

  it.each([1, 3, 10])("pain of %d", (pain) =>
    silent(withNewest(visits(RISEN), { pain }), {}, `Pain of ${pain} of 10 was said on ${dateOf(20)}`),
  );

  it("is not silent about pain of 0, an end that was meant, or pain of a former day", () => {
    expect(on(withNewest(visits(RISEN), { pain: 0 })).advice).toBe("lower-threshold");
    expect(on(withNewest(visits(RISEN), { ended_because: "done" })).advice).toBe("lower-threshold");
    const former = visits(RISEN, (index) => (index === 4 ? { pain: 5, ended_because: "pain" } : {}));
    expect(on(former).advice).toBe("lower-threshold");
  });

  it("after 22 days away, not after 21", () => {
    expect(on(visits(RISEN), { today: dateOf(20 + 21) }).advice).toBe("lower-threshold");
    silent(visits(RISEN), { today: dateOf(20 + 22) }, /long before/);
  });

  it("another setup, until five days with it", () => {
    const other_setup = { last_day: dateOf(-1), days: 9 };
    silent(visits(RISEN.slice(0, 4)), { other_setup }, "The setup is another one since 2026-01-01: 4 comparable days");
    expect(on(visits(RISEN.slice(0, 5)), { other_setup }).advice).toBe("keep");
    expect(on(visits(RISEN), { other_setup }).advice).toBe("lower-threshold");
    // Where it was used in between or later it is no change of setup: there are only too few days.
    for (const last_day of [dateOf(0), dateOf(9)]) {
      expect(on(visits(RISEN.slice(0, 4)), { other_setup: { last_day, days: 9 } }).advice).toBe("too-few-sets");
    }
  });

  it("back after a long break, until five days since", () => {
    const back = (count: number) =>
      visits([...STEADY, ...RISEN].slice(0, 6 + count), undefined, (index) => 4 * index + (index < 6 ? 0 : 30));
    for (const count of [1, 4]) silent(back(count), {}, /^After a long break it begins anew on 2026-02-24/);
    expect(on(back(5)).advice).toBe("keep");
    // What was before the break is no part of it: the six since rose, the twelve would tell less.
    expect(on(back(6)).advice).toBe("lower-threshold");
  });
});

describe("what comes first", () => {
  /** Everything there is at once; each row takes the foremost away. */
  const pained = { pain: 4, ended_because: "pain" } as const;
  const days = (newest: Partial<Day>): Day[] => withNewest(visits(FALLEN), newest);
  const plan = { fatigue_threshold: 0.3, rest_s: 180 };
  const everything: Partial<Series> = { plan, rested_s: 60, today: dateOf(60) };

  it.each<readonly [string, readonly Day[], Partial<Series>, RegExp, string]>([
    ["held", days(pained), { ...everything, intent: "held", threshold_meant: false }, /held below/, "none"],
    ["no loss", days(pained), { ...everything, threshold_meant: false }, /no loss of strength/, "none"],
    ["an end for pain", days(pained), everything, /ended for pain/, "none"],
    ["pain", days({ pain: 4 }), everything, /Pain of 4/, "none"],
    ["away", days({}), everything, /long before/, "none"],
    ["a low day", days({}), { ...everything, today: dateOf(21) }, /below what the record/, "longer-rest"],
    ["a changed plan", visits(RISEN), { plan, rested_s: 60 }, /The plan says/, "keep"],
    ["an improvement", visits(RISEN), { rested_s: 60 }, /rose by/, "lower-threshold"],
  ])("%s", (_, list, changes, why, kind) => {
    const advice = on(list, changes);
    expect(advice.reasons[0]).toMatch(why);
    expect(advice.advice).toBe(kind);
  });

  it("pain and absence also before too few days", () => {
    const one = [visit(0, 1000, { pain: 2 })];
    expect(on(one)).toMatchObject({ advice: "none" });
    expect(on([visit(0, 1000)], { today: dateOf(22) })).toMatchObject({ advice: "none" });
    expect(on([visit(0, 1000)], { today: dateOf(21) })).toMatchObject({ advice: "too-few-sets" });
  });

  it("another setup before the break that came with it", () => {
    const list = visits(RISEN.slice(0, 4), undefined, (index) => 4 * index + (index < 2 ? 0 : 30));
    expect(on(list, { other_setup: { last_day: dateOf(-5), days: 2 } }).reasons[0]).toMatch(/setup is another/);
  });
});

describe("common practice, no source: 40 to 35 to 30 % while results keep rising, over weeks", () => {
  /** Twice a week for half a year, 10 % stronger every four weeks, the next set always to what was advised. */
  function followed(seed: number, within_person: number): { readonly visit: number; readonly to: number }[] {
    const bests = scattered(seed, 48, within_person, (index) => 1 + 0.0125 * index);
    const steps: { visit: number; to: number }[] = [];
    let done: readonly Day[] = [];
    let threshold = 0.4;
    for (const [index, best] of bests.entries()) {
      done = [...done, visit(Math.floor(3.5 * index), best, { fatigue_threshold: threshold })];
      const advised = adviceOn(done).fatigue_threshold ?? threshold;
      if (advised === threshold) continue;
      threshold = advised;
      steps.push({ visit: index, to: threshold });
    }
    return steps;
  }

  it.each([
    [0.02, 1],
    [0.02, 2],
    [0.03, 3],
    [0.03, 4],
    [0.05, 5],
    [0.05, 6],
  ])("days differing by %d, seed %d", (within_person, seed) => {
    const steps = followed(seed, within_person);
    expect(steps.slice(0, 2).map(({ to }) => to)).toEqual([0.35, 0.3]);
    expect(steps.map(({ to }) => to)).toEqual([0.35, 0.3, 0.25, 0.2].slice(0, steps.length));
    // Not before the fifth week, and at least two weeks at each.
    expect(steps[0]!.visit).toBeGreaterThanOrEqual(9);
    expect(steps[1]!.visit).toBeLessThan(48);
    for (const [index, step] of steps.entries()) {
      if (index > 0) expect(step.visit - steps[index - 1]!.visit).toBeGreaterThanOrEqual(4);
    }
  });
});
