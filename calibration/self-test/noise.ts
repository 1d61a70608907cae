/**
 * Noise of one reading and what it means: in counts, newtons and bits, beside the amplifier's datasheet and what the work needs.
 *
 * Standard deviation from differences of neighbours, divided by the square root of two, so that drift hardly shows. Noise-free
 * means 6.6 standard deviations, which 999 of 1000 readings stay within (common practice, no source). HX711 datasheet:
 * input noise 50 nV rms at 10 and 90 nV at 80 conversions a second, gain 128; one count is supply / gain / 2^24.
 */
import { overlappingDeviation } from "./allan.ts";
import type { Found } from "./finding.ts";
import type { SensorFacts } from "./sample.ts";
import { amount, digits, inCounts, newtons } from "./wording.ts";
import type { Yardstick } from "./yardstick.ts";

const NOISE_FREE_SDS = 6.6;
const RANGE_COUNTS = 2 ** 24;
const DATASHEET_GAIN = 128;
const DATASHEET_SUPPLY_V = 5;
const SLOW_NV = 50;
const FAST_NV = 90;
const FAST_HZ = 30;
/** Boards are worse than their amplifier's datasheet; three times is beyond what a good one is (common practice, no source). */
const WORSE = 3;
const SMOOTHED_S = 0.2;
/** Noise that is taken for movement, in divisions: nothing so noisy ever counts as still. */
const MOVEMENT_DIVISIONS = 25;

/** One count at the input of an HX711, nV: 2.3283 at 5 V and gain 128. */
export function countAtInput_nV(supply_V: number, gain: number): number {
  return (1e9 * supply_V) / gain / RANGE_COUNTS;
}

/** Noise of one reading that the datasheet leads to expect, counts rms: 21.5 at 10 a second, 38.7 at 80. null: it does not say. */
export function datasheetNoise_counts(facts: SensorFacts, conversions_Hz: number): number | null {
  const unnamed = facts.amplifier === null;
  if (!unnamed && !/hx711/i.test(facts.amplifier ?? "")) return null;
  if ((facts.gain ?? DATASHEET_GAIN) !== DATASHEET_GAIN) return null;
  const noise_nV = conversions_Hz < FAST_HZ ? SLOW_NV : FAST_NV;
  return noise_nV / countAtInput_nV(DATASHEET_SUPPLY_V, DATASHEET_GAIN);
}

/** Standard deviation of one reading from differences of neighbours: half the mean square of them, rooted. */
export function noiseOf(counts: readonly number[]): number {
  return overlappingDeviation(counts, 1);
}

/** Bits of the amplifier's range that a spread of `counts` leaves; null where nothing moves. */
export function bitsLeft(counts: number): number | null {
  return counts > 0 ? Math.log2(RANGE_COUNTS / counts) : null;
}

/** @param counts without wild readings. */
export function examineNoise(
  counts: readonly number[],
  conversions_Hz: number,
  facts: SensorFacts,
  yardstick: Yardstick,
): Found {
  const { counts_per_N, d_counts, allowed_counts } = yardstick;
  const sd_counts = noiseOf(counts);
  const noise_free_counts = NOISE_FREE_SDS * sd_counts;
  const datasheet_counts = datasheetNoise_counts(facts, conversions_Hz);
  const readings = Math.min(Math.max(1, Math.round(SMOOTHED_S * conversions_Hz)), Math.floor(counts.length / 4));
  const smoothed_counts = overlappingDeviation(counts, readings);
  const values = {
    sd_counts,
    sd_N: newtons(sd_counts, counts_per_N),
    plain_sd_counts: plainSd(counts),
    peak_to_peak_counts:
      counts.reduce((most, v) => Math.max(most, v), -Infinity) -
      counts.reduce((least, v) => Math.min(least, v), Infinity),
    noise_free_counts,
    noise_free_N: newtons(noise_free_counts, counts_per_N),
    noise_free_bits: bitsLeft(noise_free_counts),
    effective_bits: bitsLeft(sd_counts),
    datasheet_counts,
    smoothed_counts,
    smoothed_N: newtons(smoothed_counts, counts_per_N),
    allowed_counts,
    allowed_N: newtons(allowed_counts, counts_per_N),
  };
  const bits = bitsLeft(noise_free_counts);
  const free =
    bits === null ? "" : `; free of noise to ${amount(noise_free_counts, counts_per_N)}, ${digits(bits)} bits`;
  const what = `One reading scatters by ${amount(sd_counts, counts_per_N)} (sd)${free}`;
  const cell = yardstick.assumed ? " of a cell of 2 mV/V" : "";
  if (smoothed_counts > allowed_counts || sd_counts > MOVEMENT_DIVISIONS * d_counts) {
    return {
      level: "fault",
      what: `${what}; over 0.2 s ${inCounts(smoothed_counts)} are left where the smallest stop, a loss of a tenth at working force${cell}, bears ${inCounts(allowed_counts)}: stops and zero cannot be relied on.`,
      do: REPAIR,
      values,
    };
  }
  if (datasheet_counts !== null && sd_counts > WORSE * datasheet_counts) {
    return {
      level: "notice",
      what: `${what}: ${digits(sd_counts / datasheet_counts)} times the ${digits(datasheet_counts)} counts of an HX711's datasheet, though the work${cell === "" ? "" : ` with${cell.slice(3)}`} can bear it.`,
      do: REPAIR,
      values,
    };
  }
  const beside =
    datasheet_counts === null ? "" : ` (an HX711's datasheet leads to expect ${digits(datasheet_counts)} counts)`;
  return { level: "good", what: `${what}${beside}; the work can bear it.`, do: null, values };
}

const REPAIR =
  "Shorten and shield the cell's cable, check its plug and screws, give the amplifier a quiet supply of its own, and keep motor cables away.";

function plainSd(counts: readonly number[]): number {
  const first = counts[0]!;
  const mean = counts.reduce((sum, value) => sum + (value - first), 0) / counts.length;
  const squares = counts.reduce((sum, value) => sum + (value - first - mean) ** 2, 0);
  return Math.sqrt(squares / (counts.length - 1));
}
