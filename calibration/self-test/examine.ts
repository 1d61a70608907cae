/**
 * What a few seconds of readings at rest tell of a sensor. Pure: the same sample and facts give the same findings.
 *
 * First whether the readings are readings at all, then what they are like. What one fault makes meaningless is left out: an amplifier at the
 * end of its range, or stuck, has no noise to speak of. Wild readings are counted and then taken out of everything else.
 */
import { examineAveraging } from "./averaging.ts";
import { examineBits } from "./bits.ts";
import { examineSaturation, examineStuck } from "./dead.ts";
import { type Finding, type Found, SENSOR_CHECKS, type SensorCheck } from "./finding.ts";
import { type Intervals, intervalsOf } from "./intervals.ts";
import { examineLines, examineLoss } from "./loss.ts";
import { examineMains, mainsLines, strongest } from "./mains.ts";
import { examineNoise, noiseOf } from "./noise.ts";
import { medianOf } from "./order.ts";
import { examineRange } from "./range.ts";
import { examineJitter, examineRate } from "./rate.ts";
import { blocksOf, examineDrift, examineRest } from "./rest.ts";
import type { Sample, SensorFacts } from "./sample.ts";
import { residualsOf } from "./sine-fit.ts";
import { cleaned, examineSpikes } from "./spikes.ts";
import { examineSwing } from "./swing.ts";
import { several } from "./wording.ts";
import { yardstickOf } from "./yardstick.ts";

/** Fewer say nothing about noise, and half-second means need a few. */
const LEAST_READINGS = 16;
const LEAST_DURATION_S = 1.5;

type Checks = Partial<Record<SensorCheck, Found | null>>;

/**
 * One finding for each thing that could be looked at, in the order of `SENSOR_CHECKS`. Raw counts and device time in; force
 * appears in the sentences only where there is a scale.
 * @throws RangeError where times and counts do not pair up.
 */
export function examineSensor(sample: Sample, facts: SensorFacts): readonly Finding[] {
  const { at_us, counts } = sample;
  if (at_us.length !== counts.length) throw new RangeError("times and counts must pair up");
  const intervals = intervalsOf(at_us);
  if (counts.length < LEAST_READINGS || !(intervals.duration_s >= LEAST_DURATION_S)) {
    return named({ readings: tooFew(counts.length, intervals.duration_s), lines: examineLines(sample) });
  }
  const line = ofTheLine(sample, intervals, facts);
  const saturation = examineSaturation(counts);
  if (saturation.level === "fault") return named({ ...line, saturation });
  const stuck = examineStuck(counts, facts.dialect);
  const alive = { ...line, saturation, stuck };
  return named(new Set(counts).size === 1 ? alive : { ...alive, ...ofTheSensor(sample, intervals, facts) });
}

function named(checks: Checks): readonly Finding[] {
  return SENSOR_CHECKS.flatMap((check) => {
    const found = checks[check] ?? null;
    return found === null ? [] : [{ check, ...found }];
  });
}

function ofTheLine(sample: Sample, intervals: Intervals, facts: SensorFacts): Checks {
  const { counts } = sample;
  return {
    readings: {
      level: "good",
      what: `${several(counts.length, "reading")} in ${intervals.duration_s.toFixed(1)} s.`,
      do: null,
      values: { readings: counts.length, duration_s: intervals.duration_s },
    },
    rate: examineRate(intervals, counts.length, facts),
    jitter: examineJitter(intervals, facts.dialect),
    loss: examineLoss(sample, intervals, facts),
    lines: examineLines(sample),
  };
}

function ofTheSensor(sample: Sample, intervals: Intervals, facts: SensorFacts): Checks {
  const { counts_per_N } = facts;
  const { duration_s, usual_s } = intervals;
  const yardstick = yardstickOf(facts);
  const clean = cleaned(sample.counts, yardstick.d_counts);
  const wild = new Set(clean.spikes.map(({ index }) => index));
  const from_us = sample.at_us[0]!;
  const at_s = sample.at_us.map((at) => (at - from_us) / 1e6);
  const rate_Hz = 1 / usual_s;
  const residuals = residualsOf(at_s, clean.counts, rate_Hz);
  const noise_counts = noiseOf(clean.counts);
  const blocks = blocksOf(at_s, clean.counts);
  const mains = mainsLines(residuals, facts.mains_Hz);
  return {
    rest: examineRest(blocks, noise_counts, facts.zero_counts, yardstick),
    bits: examineBits(
      sample.counts.filter((_, index) => !wild.has(index)),
      Math.min(clean.sd_counts, besideLine(residuals.counts, strongest(mains.lines)?.amplitude_counts ?? 0)),
      counts_per_N,
    ),
    spikes: examineSpikes(clean, duration_s, counts_per_N),
    noise: examineNoise(clean.counts, rate_Hz, facts, yardstick),
    mains: examineMains(mains, residuals, noise_counts, yardstick),
    swing: examineSwing(residuals, strongest(mains.lines)?.seen_at_Hz ?? null, yardstick),
    drift: examineDrift(blocks, yardstick),
    averaging: examineAveraging(clean.counts, usual_s, yardstick),
    range: examineRange(medianOf(clean.counts), facts),
  };
}

/** Scatter that is left beside a line: one that keeps step with the readings visits a few values only, and proves nothing of a bit. */
function besideLine(residuals: readonly number[], amplitude_counts: number): number {
  const mean_square = residuals.reduce((sum, value) => sum + value * value, 0) / residuals.length;
  return Math.sqrt(Math.max(0, mean_square - amplitude_counts ** 2 / 2));
}

function tooFew(readings: number, duration_s: number): Found {
  const what =
    readings === 0
      ? "No reading came."
      : `Only ${several(readings, "reading")} in ${duration_s.toFixed(1)} s: too few to say anything.`;
  return {
    level: "fault",
    what,
    do: "Check the amplifier's supply and its two data wires, and that the board is running; then test again.",
    values: { readings, duration_s },
  };
}
