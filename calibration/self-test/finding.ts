/**
 * What a self-test says: one finding for each thing looked at, good or bad, for a technician to read and a program to sort.
 *
 * good: nothing to do. notice: usable, but not as it should be. fault: the numbers cannot be trusted, or the work is hindered.
 */

export type FindingLevel = "good" | "notice" | "fault";

export type FindingValue = number | string | boolean | null;

export interface Finding {
  /** What was looked at, a fixed name. */
  readonly check: string;
  readonly level: FindingLevel;
  /** One sentence: what was found, and how bad it is. */
  readonly what: string;
  /** One sentence: what would do. null where nothing has to be done. */
  readonly do: string | null;
  /** The figures behind the sentence; each name ends in its unit. null: not known. */
  readonly values: Readonly<Record<string, FindingValue>>;
}

/** The checks of a sensor, in the order they are reported. A check that can say nothing is left out. */
export const SENSOR_CHECKS = [
  "rest",
  "readings",
  "rate",
  "jitter",
  "loss",
  "lines",
  "saturation",
  "stuck",
  "bits",
  "spikes",
  "noise",
  "mains",
  "swing",
  "drift",
  "averaging",
  "range",
] as const;
export type SensorCheck = (typeof SENSOR_CHECKS)[number];

/** What a check found, before it is given its name. */
export type Found = Omit<Finding, "check">;

const RANK: Readonly<Record<FindingLevel, number>> = { good: 0, notice: 1, fault: 2 };

/** The worst level among findings; good where there are none. */
export function worstOf(findings: readonly Finding[]): FindingLevel {
  return findings.reduce<FindingLevel>((worst, { level }) => (RANK[level] > RANK[worst] ? level : worst), "good");
}
