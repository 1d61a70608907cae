/** How classes and what is lacking are worded: as limits that were kept, never as a certificate. */
import { shown } from "../outcome.ts";
import { brokenLimits, type HeldClass, within } from "./classes.ts";
import { CLASSES, OWN_PROCEDURE } from "./iso-7500-1.ts";
import type { Level } from "./levels.ts";

export interface Worded {
  /** From the lowest up. */
  readonly levels: readonly Level[];
  readonly classes: readonly HeldClass[];
  /** What 100 % is, N. */
  readonly range_N: number;
  readonly zero_error: number | null;
  readonly resolution_N: number;
}

/** The classes in one sentence, and in a second one what was not tried. */
export function classText(worded: Worded): string {
  const { levels, classes } = worded;
  const [best, ...wider] = classes;
  const highest = levels.at(-1);
  if (highest === undefined) return "No load was hung: there is nothing to say of a class.";
  const untried = untriedText(worded);
  const rest = untried === "" ? "" : ` ${untried}`;
  if (best === undefined) return `${noClass(highest, worded)}${rest}`;
  const ranges = [
    `of class ${best.name} ${over(best, worded.range_N, ` of ${kilo(worded.range_N)}`)}`,
    ...wider.map((held) => `of class ${held.name} ${over(held, worded.range_N, "")}`),
  ];
  return `Within the limits ${listed(ranges)}${knownTo(best, levels)}.${rest}`;
}

/** Why not even the widest class holds at the highest level. */
function noClass(highest: Level, { zero_error, resolution_N }: Worded): string {
  const at = kilo(highest.force_N);
  // Errors are those of loads that were come up to.
  if (highest.worst_error === null) {
    return `The highest level, ${at}, was never reached from below: there is nothing to say of a class.`;
  }
  const widest = CLASSES.at(-1)!;
  const broken = [
    ...brokenLimits(highest, widest, resolution_N),
    ...(within(zero_error, widest.zero_error) ? [] : ["zero return"]),
  ];
  return `Outside the limits of class ${widest.name} at the highest level, ${at}: ${listed(broken)}.`;
}

/** `over 20..100 % of 2 kN`, or `at 40 % of 2 kN` where there is one level. */
function over({ from_N, to_N }: HeldClass, range_N: number, of: string): string {
  const from = percentOf(from_N, range_N);
  const to = percentOf(to_N, range_N);
  return from === to ? `at ${to} %${of}` : `over ${from}..${to} %${of}`;
}

/** A load can show no better class than it is known itself. */
function knownTo(best: HeldClass, levels: readonly Level[]): string {
  const tolerance = worstTolerance(levels);
  const limit = CLASSES.find(({ name }) => name === best.name)!.error;
  return tolerance >= limit / 2 ? `, as far as loads known to ${shown(100 * tolerance)} % can tell` : "";
}

function untriedText({ levels, classes, zero_error }: Worded): string {
  const from_N = classes.at(-1)?.from_N ?? 0;
  const inside = levels.filter(({ force_N }) => force_N >= from_N);
  // The highest load is never come down to.
  const below = inside.length > 1 ? inside.slice(0, -1) : inside;
  const never = [
    ...(inside.every(({ repeatability }) => repeatability === null) ? ["repeatability"] : []),
    ...(below.every(({ reversibility }) => reversibility === null) ? ["reversibility"] : []),
    ...(zero_error === null ? ["zero return"] : []),
  ];
  const partly = [
    ...(mixed(inside.map(({ repeatability }) => repeatability)) ? ["repeatability"] : []),
    ...(mixed(below.map(({ reversibility }) => reversibility)) ? ["reversibility"] : []),
  ];
  return [
    ...(never.length > 0 ? [`The limits of ${listed(never)} were not tried.`] : []),
    ...(partly.length > 0 ? [`Those of ${listed(partly)} were tried at some levels only.`] : []),
  ].join(" ");
}

const mixed = (values: readonly (number | null)[]): boolean =>
  values.some((value) => value === null) && values.some((value) => value !== null);

/** What the standard's own procedure asks for and this check did not have, a sentence each. */
export function lackingOf({ levels, range_N }: Worded): readonly string[] {
  // As the share is said: a plate of 20 kg is 19.6 % of 1 kN.
  const within = levels.filter(
    ({ force_N }) => Math.round((100 * force_N) / range_N) >= 100 * OWN_PROCEDURE.from_share,
  );
  const highest_N = levels.at(-1)?.force_N ?? 0;
  const series = new Set(
    levels.flatMap(({ runs }) => runs.filter(({ loading }) => loading === "increasing").map((run) => run.series)),
  ).size;
  const tolerance = worstTolerance(levels);
  return [
    ...(within.length < OWN_PROCEDURE.levels
      ? [`At least five levels between 20 and 100 % of ${kilo(range_N)}: there ${were(within.length)}.`]
      : []),
    ...(highest_N < 0.99 * range_N && levels.length > 0
      ? [`A level at 100 %: the highest was ${percentOf(highest_N, range_N)} %.`]
      : []),
    ...(series < OWN_PROCEDURE.series ? [`Three increasing series: there ${were(series)}.`] : []),
    ...(tolerance > 0
      ? [`Loads with a certificate of their own: these are known to ${shown(100 * tolerance)} %.`]
      : []),
  ];
}

const were = (count: number): string => (count === 0 ? "were none" : count === 1 ? "was one" : `were ${count}`);
const worstTolerance = (levels: readonly Level[]): number =>
  Math.max(0, ...levels.map(({ relative_tolerance }) => relative_tolerance));

const listed = (names: readonly string[]): string =>
  names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;

/** A force for a range: `2 kN`, `500 N`. */
export const kilo = (force_N: number): string =>
  force_N >= 1000 ? `${Number((force_N / 1000).toPrecision(4))} kN` : `${Number(force_N.toPrecision(4))} N`;

function percentOf(force_N: number, range_N: number): string {
  const percent = (100 * force_N) / range_N;
  return Number(percent.toFixed(percent < 10 ? 1 : 0)).toString();
}
