/**
 * How often the advice is wrong, and how often it sees what is there: simulated trainees, seeded. The whole table, of more
 * histories, is in recorder/progress/ERROR-RATES.md.
 *
 * The model: visits every four days, each one's best the trainee's level times e to the normal noise of that day; days do not
 * depend on one another. People are less simple.
 */
import { describe, expect, it } from "vitest";
import type { AdviceKind } from "../../../protocol/requests/trend.ts";
import type { Day } from "../../../recorder/progress/series.ts";
import { DEFAULT_RULES, judge, type Rules } from "../../../recorder/progress/trend.ts";
import { normalAt, seedFor } from "../../../recorder/simulated-gym/random.ts";
import { scattered, seriesOf, visits } from "./series.ts";

const NOTHING = new Map();
const QUIET: ReadonlySet<AdviceKind> = new Set(["keep", "too-few-sets", "none"]);
const rulesOf = (known_typical_error: number | null): Rules => ({ ...DEFAULT_RULES, known_typical_error });
const adviceOf = (days: readonly Day[], rules: Rules): AdviceKind =>
  judge(seriesOf(days), NOTHING, rules).advice.advice;
/** Of so many histories, the share whose advice is such a one. */
const rate = (
  histories: number,
  history: (seed: number) => readonly Day[],
  rules: Rules,
  is: (kind: AdviceKind) => boolean,
) => Array.from({ length: histories }, (_, seed) => adviceOf(history(seed), rules)).filter(is).length / histories;

describe("noise alone ends in keep, in 95 of 100 histories and more", () => {
  const quiet = (count: number, within_person: number, rules: Rules) =>
    rate(
      400,
      (seed) => visits(scattered(seed * 7 + count, count, within_person)),
      rules,
      (kind) => QUIET.has(kind),
    );

  describe.each([6, 8, 10, 14, 20, 30, 40])("%d days", (count) => {
    it.each([0.02, 0.03, 0.05, 0.074, 0.1])("that differ by %d, as the program starts", (within_person) => {
      expect(quiet(count, within_person, rulesOf(null))).toBeGreaterThanOrEqual(0.95);
    });

    it("that differ by a known 5 %", () => expect(quiet(count, 0.05, rulesOf(0.05))).toBeGreaterThanOrEqual(0.95));
  });

  /** Work to the same loss scatters more, and goes a little with best; it is judged as well, once there is an error of it. */
  it.each([14, 20, 40])("of best and of work to the same loss, %d days", (count) => {
    const worked = (seed: number) => {
      const bests = scattered(seed * 7 + count, count, 0.04);
      return visits(bests, (index) => ({
        impulse_N_s: 10 * bests[index]! * Math.exp(0.1 * normalAt(seedFor(seed, "work"), index)),
      }));
    };
    expect(rate(400, worked, rulesOf(null), (kind) => QUIET.has(kind))).toBeGreaterThanOrEqual(0.95);
  });
});

describe("a look at every visit is more than one look", () => {
  /** Whether anything but keep was ever said over visits 5 to 20. */
  const ever = (within_person: number, known: number | null) => {
    const spoken = Array.from({ length: 200 }, (_, seed) => {
      const days = visits(scattered(seed * 13 + 5, 20, within_person));
      return days.some((_day, index) => index >= 4 && !QUIET.has(adviceOf(days.slice(0, index + 1), rulesOf(known))));
    });
    return spoken.filter(Boolean).length / 200;
  };

  it("and yet noise of a known 3 % makes a fifth of trainees hear anything else in 20 visits, at the most", () => {
    const share = ever(0.03, 0.03);
    expect(share).toBeLessThan(0.2);
    // It is no miracle: about one in seven.
    expect(share).toBeGreaterThan(0.05);
  });

  it.each([0.02, 0.05, 0.074])("and of %d as the program starts no more", (cv) =>
    expect(ever(cv, null)).toBeLessThan(0.2),
  );
});

describe("the power to see a rise of 10 %", () => {
  const CURVE = [0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1] as const;
  const lowered = (count: number, cv: number, form: (index: number) => number, histories = 400) =>
    rate(
      histories,
      (seed) => visits(scattered(seed * 7 + count, count, cv, form)),
      rulesOf(cv),
      (kind) => kind === "lower-threshold",
    );
  const step = (index: number) => (index < 5 ? 1 : 1.1);
  const climb = (index: number) => (index < 5 ? 1 : 1 + (0.1 * (index - 4)) / 5);
  const five = (index: number) => (index < 2 ? 1 : 1.1);
  const fiveClimbing = (index: number) => 1 + (0.1 * index) / 4;

  it("days differing by a known 3 %, a rise held over five sets after five: more than 80 %", () => {
    expect(lowered(10, 0.03, step)).toBeGreaterThanOrEqual(0.9);
  });

  it("five sets in all, risen after two: more than 80 %", () => {
    expect(lowered(5, 0.03, five, 1000)).toBeGreaterThanOrEqual(0.8);
  });

  it("a climb that ends at 10 % at the newest of ten: about 72 %, since the newest three are not all there yet", () => {
    const power = lowered(10, 0.03, climb, 1000);
    expect(power).toBeGreaterThan(0.67);
    expect(power).toBeLessThan(0.77);
  });

  it("five sets in all, climbing all the way: about a third", () => {
    const power = lowered(5, 0.03, fiveClimbing, 1000);
    expect(power).toBeGreaterThan(0.3);
    expect(power).toBeLessThan(0.4);
  });

  it.each([
    ["held over five sets after five", 10, step],
    ["climbing over five sets after five", 10, climb],
    ["five sets in all, risen after two", 5, five],
  ] as const)("falls with every bit by which days differ: %s", (_, count, form) => {
    const curve = CURVE.map((cv) => lowered(count, cv, form));
    for (const [index, power] of curve.entries()) if (index > 0) expect(power).toBeLessThan(curve[index - 1]! + 0.01);
    expect(curve[0]!).toBeGreaterThan(0.95);
    expect(curve.at(-1)!).toBeLessThan(0.25);
  });

  it("by their own error, risen after fifteen of twenty days that differ by 3 %: more than 80 %", () => {
    const power = rate(
      400,
      (seed) => visits(scattered(seed, 20, 0.03, (index) => (index < 15 ? 1 : 1.1))),
      rulesOf(null),
      (kind) => kind === "lower-threshold",
    );
    expect(power).toBeGreaterThan(0.8);
  });

  it("by the published error, hardly any in ten days: that is the price of believing in no more steadiness than was seen", () => {
    const seen = (seed: number) => visits(scattered(seed, 10, 0.03, step));
    expect(rate(400, seen, rulesOf(null), (kind) => kind === "lower-threshold")).toBeLessThan(0.1);
  });
});
