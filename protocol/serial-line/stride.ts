/**
 * Whether a line can follow the one before it: how far its count and its clock went, and whether the two agree. Pure.
 *
 * The clock alone cannot tell a restart from a long gap: after half of its 71.6 minutes, starting again at 0 looks like
 * a step forward of many minutes. The count starts again too, so both must fit.
 */

/** How many lines on, modulo 2^16; 0 for the same line again. */
export const linesOn = (from_seq: number, seq: number): number => (seq - from_seq) & 0xffff;

/** How much later, modulo 2^32. */
export const microsOn = (from_us: number, t_us: number): number => (t_us - from_us) >>> 0;

const HALF_CLOCK_US = 2 ** 31;

/** Made in one moment: a few answers, a key, a hello and a reading. */
const BURST_LINES = 16;
/** Amplifiers of this class convert up to 320 times a second; keys and answers are rare beside that. */
const MOST_LINES_PER_US = 500 / 1e6;

/** No line for this long is no surprise: settling, a change of rate, an amplifier that fell silent. */
const QUIET_US = 2_000_000;
/** Beyond it, at least this: the slowest amplifiers convert 8 to 10 times a second. */
const LEAST_LINES_PER_US = 4 / 1e6;
/** A step longer than this is always asked about, since by then the count can fit by chance. Asking costs little. */
const LONGEST_STEP_US = 10_000_000;

/** Possible in one boot: forward in time, and no more lines than can be made in it. */
export function isPossible(lines: number, micros: number): boolean {
  return lines > 0 && micros < HALF_CLOCK_US && lines <= BURST_LINES + micros * MOST_LINES_PER_US;
}

/** Possible, and such that nobody need be asked. */
export function isOrdinary(lines: number, micros: number): boolean {
  return isPossible(lines, micros) && micros <= LONGEST_STEP_US && lines >= (micros - QUIET_US) * LEAST_LINES_PER_US;
}
