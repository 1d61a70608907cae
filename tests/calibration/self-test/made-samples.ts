/** Synthetic samples: normal noise about a level, with whatever a test adds. */
import { examineSensor } from "../../../calibration/self-test/examine.ts";
import type { Finding } from "../../../calibration/self-test/finding.ts";
import type { Sample, SensorFacts } from "../../../calibration/self-test/sample.ts";
import { normalAt } from "../../../recorder/simulated-gym/random.ts";
import { FACTS } from "./boards.ts";

export interface Made {
  readonly rate_Hz?: number;
  readonly duration_s?: number;
  readonly sd_counts?: number;
  readonly level_counts?: number;
  readonly seed?: number;
  /** Added to level and noise, by time in s and index. */
  readonly adds?: (at_s: number, index: number) => number;
  /** What becomes of the whole reading. */
  readonly reads?: (counts: number, index: number) => number;
}

export function made(options: Made = {}): Sample {
  const { rate_Hz = 80, duration_s = 10, sd_counts = 38.7, level_counts = 107_374, seed = 3 } = options;
  const { adds = () => 0, reads = (counts: number) => counts } = options;
  const at_us = Array.from({ length: Math.round(rate_Hz * duration_s) + 1 }, (_, index) =>
    Math.round((1e6 * index) / rate_Hz),
  );
  const counts = at_us.map((at, index) =>
    reads(Math.round(level_counts + sd_counts * normalAt(seed, index) + adds(at / 1e6, index)), index),
  );
  return { at_us, counts, readings_lost: 0, lines_rejected: 0 };
}

export const NO_SCALE: SensorFacts = { ...FACTS, counts_per_N: null, zero_counts: null };

/** The finding of one check. */
export function found(check: string, sample: Sample, facts: SensorFacts = FACTS): Finding {
  const finding = examineSensor(sample, facts).find((each) => each.check === check);
  if (finding === undefined) throw new Error(`nothing was said of ${check}`);
  return finding;
}

/** A figure of a finding, which must be a number. */
export function figure(finding: Finding, name: string): number {
  const value = finding.values[name];
  if (typeof value !== "number") throw new Error(`${finding.check} has no figure ${name}: ${value}`);
  return value;
}
