/**
 * Bits of the reading that never change although noise should change them.
 *
 * Noise of one standard deviation s turns every bit worth up to 2 s again and again: even where the readings lie in the middle of the 2^k
 * neighbours that share a bit, three in ten are outside. Lowest bits that are all stuck are told by the readings themselves, which then go
 * in steps of a power of two, as when clock pulses are missing and what came is shifted.
 */
import type { Found } from "./finding.ts";
import { inForce } from "./wording.ts";

const BITS = 24;
/** With 0.7 inside by chance, 32 readings all are once in a hundred thousand times. */
const LEAST_READINGS = 32;
/** Steps are believed after so many changes: each is even by chance every other time. */
const LEAST_CHANGES = 16;

/**
 * @param counts without single wild readings: one of them would make a dead bit look alive.
 * @param sd_counts of one reading, as neighbours show it.
 * @returns null where there are too few readings, or too little noise, to tell.
 */
export function examineBits(counts: readonly number[], sd_counts: number, counts_per_N: number | null): Found | null {
  if (counts.length < LEAST_READINGS) return null;
  const ever = counts.reduce((bits, value) => bits | value, 0);
  const always = counts.reduce((bits, value) => bits & value, -1);
  const moving = ever & ~always;
  const changes = counts.filter((value, index) => index > 0 && value !== counts[index - 1]).length;
  if (moving === 0 || changes < LEAST_CHANGES) return null;
  const lowest = 31 - Math.clz32(moving & -moving);
  const span_counts =
    counts.reduce((most, v) => Math.max(most, v), counts[0]!) -
    counts.reduce((least, v) => Math.min(least, v), counts[0]!);
  // A swing's neighbours differ by more than its whole width lets a bit change.
  const reached_counts = Math.min(2 * sd_counts, span_counts / 4);
  const by_noise = reached_counts < 1 ? 0 : Math.floor(Math.log2(reached_counts)) + 1;
  const examined = Math.min(BITS, Math.max(lowest, by_noise));
  const stuck = Array.from({ length: examined }, (_, bit) => bit).filter((bit) => ((moving >> bit) & 1) === 0);
  const step_counts = 2 ** lowest;
  const values = { bits_examined: examined, stuck_bits: stuck.join(" "), lowest_stuck: lowest, step_counts };
  if (examined === 0) return null;
  if (stuck.length === 0) {
    return {
      level: "good",
      what: `The lowest ${examined === 1 ? "bit changes" : `${examined} bits change`} as they should; higher ones cannot be seen at rest.`,
      do: null,
      values,
    };
  }
  if (lowest === stuck.length) {
    return {
      level: "fault",
      what: `The lowest ${lowest === 1 ? "bit never changes" : `${lowest} bits never change`}, so readings go in steps of ${step_counts} counts${inForce(step_counts, counts_per_N)}: what came is shifted or cut off.`,
      do: "Check that the board's program gives the amplifier all 24 clock pulses, reads each bit after the pulse has settled, and does not multiply or round.",
      values,
    };
  }
  return {
    level: "fault",
    what: `${stuck.length === 1 ? `Bit ${stuck[0]} never changes` : `Bits ${stuck.join(", ")} never change`}, counted from 0 at the lowest, though the noise is wide enough to change it: the data are not the amplifier's.`,
    do: "Check the data wire and its plug, and how the board's program puts the bits together.",
    values,
  };
}
