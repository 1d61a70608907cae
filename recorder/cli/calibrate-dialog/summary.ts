/** What is about to be kept, in forces and plain words, before anybody says yes. Pure. */

import type { BudgetLine, CalibrationRecord } from "../../../calibration/record.ts";
import { checkLines } from "../../../calibration/uncertainty/check-budget.ts";
import { expanded_N } from "../../../calibration/uncertainty/uncertainty.ts";
import { type House, sayField, sayForce, sayPercent } from "../quantities.ts";
import type { Checked } from "./found.ts";
import type { NewScale } from "./scale.ts";
import type { Begun } from "./visit.ts";
import { sayCheck, saySource } from "./words.ts";

export interface Taken {
  readonly scale: NewScale;
  readonly left: readonly Checked[];
  /** What was in force and fits the board; null: nothing. */
  readonly old: CalibrationRecord | null;
}

/** Parts of the uncertainty smaller than this are not worth working on. */
const WORTH_NAMING = 0.05;

export function saySummary(begun: Begun, { scale, left, old }: Taken, house: House): string {
  const { working_force_N, cell_capacity_N } = begun;
  const { zero_counts, loaded } = scale;
  const checks = left.map(({ check }) => check);
  const budget = [...loaded.budget, ...checkLines({ checks, load_N: loaded.force_N, cell_capacity_N })];
  const expanded = expanded_N(budget);
  const share = sayPercent(expanded / working_force_N, 2);
  const within = `${sayForce(expanded, house, 2)} or ${share} at ${sayForce(working_force_N, house, 0)}`;
  const row = (name: string, value: string): string => `  ${name.padEnd(13)}${value}`;
  return [
    "Summary",
    row("scale", sayField("counts_per_N", loaded.counts_per_N, house)),
    row("zero", `${zero_counts.toFixed(1)} counts`),
    row("uncertainty", `${within}: the truth is within it 95 times in 100 (k = 2)`),
    row("mostly from", sayParts(budget)),
    row("friction", loaded.friction_N === null ? "not tried" : `${sayForce(loaded.friction_N, house, 2)} either way`),
    ...left.map((checked, index) => row(index === 0 ? "checked" : "", sayCheck(checked, house))),
    ...(old === null ? [row("before", "no record to compare with")] : sayChange(scale, old, expanded, house).map(row2)),
    ...sayWires(loaded.counts_per_N, old),
  ].join("\n");
}

const row2 = (text: string, index: number): string => `  ${(index === 0 ? "before" : "").padEnd(13)}${text}`;

/** The largest first, by their part of the squares that add up. */
function sayParts(budget: readonly BudgetLine[]): string {
  const sum = budget.reduce((total, { standard_uncertainty_N }) => total + standard_uncertainty_N ** 2, 0);
  return budget
    .map(({ source, standard_uncertainty_N }) => ({ source, part: standard_uncertainty_N ** 2 / sum }))
    .filter(({ part }) => part >= WORTH_NAMING)
    .sort((one, other) => other.part - one.part)
    .map(({ source, part }) => `${saySource(source)} ${sayPercent(part)}`)
    .join(", ");
}

/** How far scale and zero have moved, and whether that is more than both records may be off. */
export function sayChange(scale: NewScale, old: CalibrationRecord, expanded: number, house: House): string[] {
  const { counts_per_N } = scale.loaded;
  // Wires turned round change the sign and nothing else of the scale, which is said on its own.
  const change = Math.abs(counts_per_N / old.counts_per_N) - 1;
  const zero_N = (scale.zero_counts - old.zero_counts) / counts_per_N;
  const more = `${sayPercent(Math.abs(change), 2)} ${change < 0 ? "fewer" : "more"} counts/N than the record in force`;
  // They turn the cell's part of the zero, not the amplifier's: nothing can be said of it.
  const zero = turnedRound(counts_per_N, old)
    ? "zero not to be compared: the wires are the other way round"
    : `zero ${sayForce(zero_N, house, 2)} from where it was`;
  const moved = [more, zero];
  const [change_N, both_N] = [Math.abs(change) * old.working_force_N, Math.hypot(expanded, old.expanded_uncertainty_N)];
  if (change_N <= both_N) return moved;
  return [...moved, "more than both may be off: find out why before you keep this"];
}

function sayWires(counts_per_N: number, old: CalibrationRecord | null): string[] {
  if (old !== null && turnedRound(counts_per_N, old)) {
    return ["  The wires are the other way round than before; the record takes care of it."];
  }
  return counts_per_N < 0 ? ["  The wires are reversed; the record takes care of it."] : [];
}

const turnedRound = (counts_per_N: number, old: CalibrationRecord): boolean => old.counts_per_N * counts_per_N < 0;
