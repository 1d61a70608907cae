/** Whether the record that was checked still holds. */
import type { CalibrationRecord, Check } from "../record.ts";
import { setUncertainty } from "../uncertainty/set-uncertainty.ts";
import type { Level, Run } from "./levels.ts";

/** Of the force. Beyond it no set is to be measured by the record; the same limit a new scale must keep. */
export const USABLE = 0.02;
/** By more than that beside what its load is known to: no scale that reads so is put in force, or its due off to a later day. */
export const isTooFarOff = ({ relative_error, applied }: Check): boolean =>
  relative_error !== null && Math.abs(relative_error) > USABLE + (applied?.relative_tolerance ?? 0);

/** Nothing that merely drifted is as far off: something is loose, bent, touching or wrongly named (common practice, no source). */
const BROKEN = 0.1;

/** What a record claims of itself. */
export type Claim = Pick<
  CalibrationRecord,
  "expanded_uncertainty_N" | "working_force_N" | "budget" | "cell_capacity_N" | "counts_per_N"
>;

/**
 * - `holds`: every error is within what the record claims and what the load is known to, together.
 * - `drifted`: some are not, all are within 2 %.
 * - `calibrate`: some are beyond 2 %, and not for want of a better load.
 * - `cannot-tell`: some are beyond 2 %, and all of those within what the record and the loads leave open.
 */
export const VERDICTS = ["holds", "drifted", "calibrate", "cannot-tell"] as const;

export interface Verdict {
  readonly is: (typeof VERDICTS)[number];
  /** Plain words, one or two sentences. */
  readonly text: string;
  /** The run that decided: of those that did, the one with the largest relative error. */
  readonly decided_by: Run;
}

/** What a set whose best was this force would claim, k = 2, N, without its own noise. */
export function claimed_N(claim: Claim, force_N: number): number {
  return setUncertainty({
    best_force_N: force_N,
    cell_capacity_N: claim.cell_capacity_N,
    record: claim,
    noise_N: null,
    smoothed_readings: 1,
    moving_resting_force_N: null,
  });
}

/** null: no load was hung. */
export function verdictOf(levels: readonly Level[], claim: Claim): Verdict | null {
  const runs = levels.flatMap((level) =>
    level.runs.map((run) => ({
      run,
      explained: Math.abs(run.error_N) <= claimed_N(claim, run.force_N) + level.relative_tolerance * run.force_N,
      usable: Math.abs(run.error) <= USABLE,
    })),
  );
  const worstOf = (some: typeof runs): Run | null =>
    some.reduce<Run | null>((far, { run }) => (far !== null && size(far) >= size(run) ? far : run), null);
  const cases = [
    ["calibrate", runs.filter(({ explained, usable }) => !explained && !usable)],
    ["drifted", runs.filter(({ explained }) => !explained)],
    ["cannot-tell", runs.filter(({ usable }) => !usable)],
    ["holds", runs],
  ] as const;
  for (const [is, deciding] of cases) {
    const decided_by = worstOf(deciding);
    if (decided_by !== null) return { is, decided_by, text: wordsOf(is, decided_by) };
  }
  return null;
}

const size = ({ error }: Run): number => Math.abs(error);

function wordsOf(is: Verdict["is"], run: Run): string {
  const error = `${signed(run.error * 100)} % at ${shown_N(run.force_N)}`;
  switch (is) {
    case "holds":
      return `The record holds: the largest error, ${error}, is within what the record claims and what the load is known to.`;
    case "drifted":
      return `Drifted, usable: calibrate soon. The error of ${error} is more than the record claims, and within 2 %.`;
    case "cannot-tell":
      return `These loads cannot tell: weigh them, or use better known ones. The error of ${error} is beyond 2 %, and no more than is open about the load.`;
    case "calibrate":
      return size(run) > BROKEN
        ? `Calibrate before the next set. The error of ${error} is no drift: first look for what is loose, bent or touching, and whether the load is what it was said to be.`
        : `Calibrate before the next set. The error of ${error} is beyond 2 %.`;
  }
}

/** What rounds to nothing has no sign. */
function signed(percent: number): string {
  const size = Math.abs(percent).toFixed(2);
  return `${Number(size) === 0 ? "" : percent < 0 ? "-" : "+"}${size}`;
}
const shown_N = (force_N: number): string => `${Number(force_N.toPrecision(4))} N`;
