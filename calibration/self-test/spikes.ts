/**
 * Single readings far from those around them: misread bits, or interference.
 *
 * A reading is wild when it lies eight standard deviations, and a division of the cell, from the median of the seven readings around it.
 * The standard deviation comes from the median of the differences between neighbours, which wild readings hardly move.
 * The kinds are those boards are known for: all lower bits set (2^n - 1), the sign turned, shifted by a bit, one bit wrong.
 */
import { isSaturated } from "../scale.ts";
import type { Found } from "./finding.ts";
import { medianOf } from "./order.ts";
import { amount, percent, several } from "./wording.ts";

const FAR_SDS = 8;
const FAR_DIVISIONS = 1;
const AROUND = 3;
/** The median of the absolute difference of two normal values: sqrt(2) x 0.6745 standard deviations. */
const MEDIAN_DIFFERENCE = Math.SQRT2 * 0.67449;
/** The median of three takes a single wild reading out; two this close pass it. */
const CLOSE = 2;
const MANY_SHARE = 0.01;
const MANY_PER_MINUTE = 12;

export type SpikeKind = "end-of-range" | "zero" | "ones" | "sign" | "shifted" | "one-bit" | "other";

export interface Spike {
  readonly index: number;
  /** Distance from the readings around it, counts. */
  readonly off_counts: number;
  readonly kind: SpikeKind;
}

export interface Cleaned {
  /** As read, with what lay around it in place of each wild reading. */
  readonly counts: readonly number[];
  readonly spikes: readonly Spike[];
  /** Standard deviation of one reading as neighbours show it; jumps of the value do not count. */
  readonly sd_counts: number;
}

/** @param counts at least two readings. @param d_counts one division of the cell, counts. */
export function cleaned(counts: readonly number[], d_counts: number): Cleaned {
  const differences = counts.slice(1).map((value, index) => Math.abs(value - counts[index]!));
  const smallest = differences.reduce(
    (least, each) => (each > 0 && each < least ? each : least),
    Number.POSITIVE_INFINITY,
  );
  // Readings that go in steps repeat themselves; their noise is not less than a step.
  const sd = Math.max(medianOf(differences), Number.isFinite(smallest) ? smallest : 0) / MEDIAN_DIFFERENCE;
  const far = Math.max(FAR_SDS * sd, FAR_DIVISIONS * d_counts);
  const usual = counts.map((_, index) => medianOf(around(counts, index)));
  const wild = counts.map((value, index) => Math.abs(value - usual[index]!) > far);
  const from = stepLength(counts, wild, far);
  const to = counts.length - stepLength(counts.toReversed(), wild.toReversed(), far);
  const spikes = counts.flatMap((value, index): Spike[] => {
    if (!wild[index] || index < from || index >= to) return [];
    const around_counts = usual[index]!;
    return [{ index, off_counts: value - around_counts, kind: kindOf(value, around_counts, FAR_SDS * sd) }];
  });
  const clean = [...counts];
  for (const { index } of spikes) clean[index] = usual[index]!;
  return { counts: clean, spikes, sd_counts: sd };
}

/** How many readings at the beginning lie at a level of their own: two or more that agree are a step of the value, not misread. */
function stepLength(counts: readonly number[], wild: readonly boolean[], far: number): number {
  const length = wild.indexOf(false);
  const agree = counts.slice(0, Math.max(0, length)).every((value) => Math.abs(value - counts[0]!) <= far);
  return length >= 2 && agree ? length : 0;
}

/** Seven readings with this one in the middle, so that on either side of a step the nearer level is in the majority. */
function around(counts: readonly number[], index: number): readonly number[] {
  const from = Math.max(0, Math.min(index - AROUND, counts.length - 1 - 2 * AROUND));
  return counts.slice(from, from + 2 * AROUND + 1);
}

function kindOf(value: number, usual: number, noise: number): SpikeKind {
  // No kind is believed that noise, or a wide guess, would fit as well.
  const within = Math.min(noise, Math.abs(value - usual) / 16);
  const near = (other: number): boolean => Math.abs(value - other) <= within;
  if (isSaturated(value)) return "end-of-range";
  if (value === 0) return "zero";
  if (isPowerOfTwo(value + 1) || isPowerOfTwo(-value)) return "ones";
  if (near(-usual)) return "sign";
  if (near(2 * usual) || near(usual / 2)) return "shifted";
  const bit = 2 ** Math.round(Math.log2(Math.abs(value - usual)));
  return near(usual + bit) || near(usual - bit) ? "one-bit" : "other";
}

const isPowerOfTwo = (value: number): boolean => value >= 2 && Number.isInteger(Math.log2(value));

const SAID: Readonly<Record<SpikeKind, string>> = {
  "end-of-range": "at the end of the range",
  zero: "exactly 0",
  ones: "with all lower bits alike, as 2^n - 1",
  sign: "with the sign turned",
  shifted: "shifted by a bit",
  "one-bit": "with one bit wrong",
  other: "of no such kind",
};

export function examineSpikes({ spikes, counts }: Cleaned, duration_s: number, counts_per_N: number | null): Found {
  const share = spikes.length / counts.length;
  const kinds = (Object.keys(SAID) as SpikeKind[]).map((kind) => ({
    kind,
    number: spikes.filter((spike) => spike.kind === kind).length,
  }));
  const close = spikes.filter(({ index }, at) => at > 0 && index - spikes[at - 1]!.index <= CLOSE).length;
  const largest_counts = spikes.reduce((most, { off_counts }) => Math.max(most, Math.abs(off_counts)), 0);
  const per_kind = Object.fromEntries(kinds.map(({ kind, number }) => [kind.replaceAll("-", "_"), number]));
  const values = { spikes: spikes.length, share, close_together: close, largest_counts, ...per_kind };
  if (spikes.length === 0) {
    return { level: "good", what: "No single reading lies far from those around it.", do: null, values };
  }
  const many =
    (spikes.length >= 2 && share >= MANY_SHARE) ||
    (spikes.length >= 3 && (60 * spikes.length) / duration_s >= MANY_PER_MINUTE);
  const known = kinds.filter(({ kind, number }) => number > 0 && kind !== "other");
  const named = known.map(({ kind, number }) => `${number} ${SAID[kind]}`);
  const misread = known.reduce((sum, { number }) => sum + number, 0) * 2 > spikes.length;
  const list = named.length === 0 ? "" : ` (${named.join(", ")})`;
  const bad =
    close > 0
      ? "some so close together that no filter of three takes them out"
      : many
        ? "too many to rely on a filter"
        : "so few that the filter takes them out";
  return {
    level: many || close > 0 ? "fault" : "notice",
    what: `${several(spikes.length, "wild reading")}, ${percent(share)}, up to ${amount(largest_counts, counts_per_N)} from those around${list}: ${bad}.`,
    do: misread
      ? "Let the board's program read the amplifier with interrupts held off, shorten the data and clock wires, and keep them from motor cables: bits are misread."
      : "Look for a loose plug, and for a motor or relay that switches nearby; keep the cell's cable shielded and away from it.",
    values,
  };
}
