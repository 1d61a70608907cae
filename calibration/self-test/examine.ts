/**
 * What a few seconds of readings at rest tell of a sensor. Pure: the same sample and facts give the same findings.
 */
import type { Finding, Found, SensorCheck } from "./finding.ts";
import { intervalsOf } from "./intervals.ts";
import { examineJitter, examineRate } from "./rate.ts";
import type { Sample, SensorFacts } from "./sample.ts";

/** Fewer say nothing about noise. */
const LEAST_READINGS = 16;

/**
 * One finding for each thing that could be looked at, in the order of `SENSOR_CHECKS`. Raw counts and device time in; force
 * appears in the sentences only where there is a scale.
 * @throws RangeError where times and counts do not pair up.
 */
export function examineSensor(sample: Sample, facts: SensorFacts): readonly Finding[] {
  const { at_us, counts } = sample;
  if (at_us.length !== counts.length) throw new RangeError("times and counts must pair up");
  const named = (check: SensorCheck, found: Found): Finding => ({ check, ...found });
  if (counts.length < LEAST_READINGS) return [named("readings", tooFew(counts.length))];
  const intervals = intervalsOf(at_us);
  return [
    named("rate", examineRate(intervals, counts.length, facts)),
    named("jitter", examineJitter(intervals, facts.dialect)),
  ];
}

function tooFew(readings: number): Found {
  return {
    level: "fault",
    what: readings === 0 ? "No reading came." : `Only ${readings} readings came: too few to say anything.`,
    do: "Check the amplifier's supply and its two data wires, and that the board is running; then test again.",
    values: { readings },
  };
}
