/**
 * The report on one sequence of checks with known loads: as-found or as-left. Pure, and the same whatever order the checks
 * come in. Forces N, errors as fractions of the true force; null where too little was tried to say.
 */
import type { Check } from "../record.ts";
import { type HeldClass, heldClasses } from "./classes.ts";
import { type Level, levelsOf } from "./levels.ts";
import { type Resolution, resolutionOf } from "./resolution.ts";
import { type Claim, type Verdict, verdictOf } from "./verdict.ts";
import { classText, lackingOf } from "./wording.ts";
import { type ZeroReturn, zeroErrorOf, zeroRemark, zeroReturnsOf } from "./zero-return.ts";

export interface CheckReport {
  readonly when: Check["when"];
  /** What 100 % is: the station's working force. */
  readonly range_N: number;
  readonly resolution: Resolution;
  /** From the lowest up. */
  readonly levels: readonly Level[];
  readonly zeros: readonly ZeroReturn[];
  /** The largest return to zero as a fraction of the largest force, unsigned; null: not tried. */
  readonly zero_error: number | null;
  /** Where the zero stood off from the start; null: it did not. */
  readonly zero_remark: string | null;
  /** The best class first, then each wider one that holds further down. */
  readonly classes: readonly HeldClass[];
  readonly class_text: string;
  /** What the standard's own procedure asks for and this check did not have. */
  readonly lacking: readonly string[];
  /** null: no load was hung. */
  readonly verdict: Verdict | null;
}

/**
 * The report on the checks of one `when`; null: there are none. `claim` is the record that was checked. `resolution`:
 * absent, taken from the windows themselves.
 */
export function reportOf(
  checks: readonly Check[],
  when: Check["when"],
  claim: Claim,
  resolution?: Resolution,
): CheckReport | null {
  const taken = checks.filter((check) => check.when === when);
  if (taken.length === 0) return null;
  const counts_per_N = Math.abs(claim.counts_per_N);
  const levels = levelsOf(taken, counts_per_N);
  const zeros = zeroReturnsOf(taken);
  const zero_error = zeroErrorOf(zeros, levels.at(-1)?.force_N ?? 0);
  const readTo = resolution ?? resolutionOf(taken, counts_per_N);
  const { resolution_N } = readTo;
  const classes = heldClasses(levels, zero_error, resolution_N);
  const worded = { levels, classes, zero_error, resolution_N, range_N: claim.working_force_N };
  return {
    when,
    range_N: claim.working_force_N,
    resolution: readTo,
    levels,
    zeros,
    zero_error,
    zero_remark: zeroRemark(zeros, claim.cell_capacity_N),
    classes,
    class_text: classText(worded),
    lacking: lackingOf(worded),
    verdict: verdictOf(levels, claim),
  };
}
