/**
 * Prints the figures of recorder/progress/ERROR-RATES.md, in percent: `npx tsx tests/recorder/progress/print-error-rates.ts`.
 * Takes a minute or two.
 */
import type { Advice } from "../../../protocol/requests/trend.ts";
import type { Day } from "../../../recorder/progress/series.ts";
import { normalAt, seedFor } from "../../../recorder/simulated-gym/random.ts";
import { adviceOn, scattered, visit, visits } from "./series.ts";

const HISTORIES = 2000;
type Known = number | null;
type Form = (index: number) => number;

const on = (days: readonly Day[], known: Known): Advice => adviceOn(days, {}, { known_typical_error: known });
const isLoud = ({ advice }: Advice): boolean => !["keep", "too-few-sets", "none"].includes(advice);
const isStep = ({ advice }: Advice): boolean => advice === "lower-threshold";
const isLower = ({ fatigue_threshold }: Advice): boolean => fatigue_threshold !== null && fatigue_threshold < 0.4;

function percent(is: (seed: number) => boolean): string {
  const seeds = Array.from({ length: HISTORIES }, (_, seed) => seed);
  return ((100 * seeds.filter(is).length) / HISTORIES).toFixed(1);
}
const ended = (count: number, within_person: number, known: Known, form: Form, is: (advice: Advice) => boolean) =>
  percent((seed) => is(on(visits(scattered(seed * 7 + count, count, within_person, form)), known)));

const level: Form = () => 1;
const ERRORS = [0.02, 0.03, 0.05, 0.074, 0.1];

console.log("Nothing changed: days; by what days differ; known");
for (const count of [5, 6, 8, 10, 12, 14, 16, 20, 30, 40]) {
  const started = ERRORS.map((error) => ended(count, error, null, level, isLoud));
  console.log([count, ...started, ended(count, 0.05, 0.05, level, isLoud)].join(" | "));
}

console.log("Best and work to the same loss: days; share");
for (const count of [14, 20, 30, 40]) {
  const share = percent((seed) => {
    const bests = scattered(seed * 7 + count, count, 0.04);
    const work = (index: number) =>
      10 * bests[index]! * Math.exp(0.1 * normalAt(seedFor(seed * 7 + count, "work"), index));
    return isLoud(
      on(
        visits(bests, (index) => ({ impulse_N_s: work(index) })),
        null,
      ),
    );
  });
  console.log(`${count} | ${share}`);
}

console.log("Ever over visits 5 to 20: anything but keep, and a lower threshold");
for (const [error, known] of [...ERRORS.map((error) => [error, null] as const), [0.05, 0.05] as const]) {
  const ever = (is: (advice: Advice) => boolean) =>
    percent((seed) => {
      const days = visits(scattered(seed * 13 + 5, 20, error));
      return days.some((_, index) => index >= 4 && is(on(days.slice(0, index + 1), known)));
    });
  console.log(`${error}${known === null ? "" : " known"} | ${ever(isLoud)} | ${ever(isLower)}`);
}

console.log("A rise of 10 %: by what days differ; a to f");
const after =
  (count: number): Form =>
  (index) =>
    index < count ? 1 : 1.1;
for (const error of [0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1]) {
  const rates = [
    ended(10, error, error, after(5), isStep),
    ended(10, error, error, (index) => (index < 5 ? 1 : 1 + (0.1 * (index - 4)) / 5), isStep),
    ended(5, error, error, after(2), isStep),
    ended(5, error, error, (index) => 1 + (0.1 * index) / 4, isStep),
    ended(20, error, null, after(15), isStep),
    ended(10, error, null, after(5), isStep),
  ];
  console.log([error, ...rates].join(" | "));
}

console.log("Following the advice, twice a week: weeks to each step, a tenth, half and nine tenths of 300");
for (const error of [0.02, 0.03, 0.05]) {
  const weeks: number[][] = [[], [], [], []];
  for (let seed = 0; seed < 300; seed++) {
    let days: readonly Day[] = [];
    let threshold = 0.4;
    for (const [index, best] of scattered(seed, 48, error, (at) => 1 + 0.0125 * at).entries()) {
      days = [...days, visit(Math.floor(3.5 * index), best, { fatigue_threshold: threshold })];
      const advised = on(days, null).fatigue_threshold ?? threshold;
      if (advised < threshold) weeks[Math.round((0.4 - advised) / 0.05) - 1]!.push(index / 2);
      threshold = advised;
    }
  }
  const said = weeks.map((list) => {
    const sorted = list.toSorted((one, other) => one - other);
    return `${[0.1, 0.5, 0.9].map((share) => sorted[Math.floor(share * sorted.length)]).join(", ")} (${list.length})`;
  });
  console.log([error, ...said].join(" | "));
}
