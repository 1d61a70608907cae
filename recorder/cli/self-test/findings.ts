/** Findings made short, and in the order in which somebody wants to read them. */
import type { Finding, FindingLevel, FindingValue } from "../../../calibration/self-test/finding.ts";

type Values = Readonly<Record<string, FindingValue>>;

export const good = (check: string, what: string, values: Values = {}): Finding => ({
  check,
  level: "good",
  what,
  do: null,
  values,
});

/** `remedy` is one sentence: what would do. */
export const notice = (check: string, what: string, remedy: string, values: Values = {}): Finding => ({
  check,
  level: "notice",
  what,
  do: remedy,
  values,
});

export const fault = (check: string, what: string, remedy: string, values: Values = {}): Finding => ({
  check,
  level: "fault",
  what,
  do: remedy,
  values,
});

const WORST_FIRST: readonly FindingLevel[] = ["fault", "notice", "good"];

/** Worst first, else in the order they came. */
export const worstFirst = (findings: readonly Finding[]): readonly Finding[] =>
  WORST_FIRST.flatMap((wanted) => findings.filter(({ level }) => level === wanted));
