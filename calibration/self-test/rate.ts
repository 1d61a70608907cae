/**
 * Whether as many readings come as the station is configured for, and how evenly.
 *
 * The amplifier's own rate is told by the usual interval: lost readings leave gaps, which do not move it. The HX711 has 10 or
 * 80 conversions a second by one pin (datasheet); its own oscillator makes 80 into anything up to about 94 (seen, no source),
 * so a fifth off is nothing to repair. Ready-made boards usually leave the pin at 10 (common practice, no source).
 */
import type { Found } from "./finding.ts";
import type { Intervals } from "./intervals.ts";
import type { SensorFacts } from "./sample.ts";
import { digits, percent, several } from "./wording.ts";

const TOO_FEW = 0.6;
const TOO_MANY = 1.5;
const TOLERANCE = 0.2;
/** Scatter of the intervals beyond this share of one: the board reads when it has time, not when a conversion is ready. */
const UNEVEN = 0.1;

export function examineRate(intervals: Intervals, readings: number, facts: SensorFacts): Found {
  const { configured_rate_Hz } = facts;
  const conversions_Hz = 1 / intervals.usual_s;
  const rate_Hz = (readings - 1) / intervals.duration_s;
  const ratio = conversions_Hz / configured_rate_Hz;
  const values = { rate_Hz, conversions_Hz, configured_rate_Hz, ratio };
  const what = `The amplifier converts ${digits(conversions_Hz)} times a second; ${configured_rate_Hz} are configured`;
  if (ratio < TOO_FEW) {
    return {
      level: "fault",
      what: `${what}: far too few, and quick work will be refused.`,
      do: `Wire the amplifier's rate pin for ${configured_rate_Hz} (high for 80; ready-made boards usually leave it at 10), or configure the rate that the board has.`,
      values,
    };
  }
  if (ratio > TOO_MANY) {
    return {
      level: "fault",
      what: `${what}: far too many, so the board is not set as the station is.`,
      do: "Wire the amplifier's rate pin as the station says (low for 10), or configure the rate that the board has.",
      values,
    };
  }
  if (Math.abs(ratio - 1) > TOLERANCE) {
    return {
      level: "notice",
      what: `${what}: ${percent(Math.abs(ratio - 1))} ${ratio < 1 ? "less" : "more"}, beyond what the oscillator of such an amplifier usually is off.`,
      do: "Check the amplifier's supply voltage and the rate that the board's program sets.",
      values,
    };
  }
  return { level: "good", what: `${what}.`, do: null, values };
}

export function examineJitter(intervals: Intervals, dialect: SensorFacts["dialect"]): Found {
  const { even_s, usual_s, together } = intervals;
  const mean_s = even_s.reduce((sum, interval) => sum + interval, 0) / Math.max(1, even_s.length);
  const squares = even_s.reduce((sum, interval) => sum + (interval - mean_s) ** 2, 0);
  const sd_s = Math.sqrt(squares / Math.max(1, even_s.length - 1));
  const longest_s = even_s.reduce((longest, interval) => Math.max(longest, interval), 0);
  const values = { sd_ms: 1000 * sd_s, longest_ms: 1000 * longest_s, usual_ms: 1000 * usual_s, together };
  const spread = `Readings come every ${digits(1000 * usual_s)} ms, give or take ${digits(1000 * sd_s)} ms (sd), ${digits(1000 * longest_s)} ms at most`;
  const pairs = together === 0 ? "" : `, and ${several(together, "reading")} had the time of the one before`;
  const uneven = sd_s > UNEVEN * usual_s || together > 0;
  if (dialect === "bare") {
    return {
      level: "good",
      what: `${spread}${pairs}; this line has no time of its own, so that is the unevenness of the host and its adapter, already smoothed.`,
      do: null,
      values,
    };
  }
  return uneven
    ? {
        level: "notice",
        what: `${spread}${pairs}: uneven, so the board does not stamp each conversion when it is ready.`,
        do: "Let the board's program take the time at the moment the amplifier says ready, by interrupt or in a loop that does nothing slow.",
        values,
      }
    : { level: "good", what: `${spread}.`, do: null, values };
}
