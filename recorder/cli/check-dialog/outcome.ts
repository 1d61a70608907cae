/** What a finished or printed check comes to: the report on the screen, files, JSON, the exit code. */
import { writeFileSync } from "node:fs";
import type { CheckReport } from "../../../calibration/check-report/report.ts";
import { USABLE } from "../../../calibration/check-report/verdict.ts";
import type { Check } from "../../../calibration/record.ts";
import { htmlSheet } from "../check-sheet/html-sheet.ts";
import type { Sheet } from "../check-sheet/sheet.ts";
import { textSheet } from "../check-sheet/text-sheet.ts";
import { DID_NOT_HOLD, type ExitCode, type Failure, type FlagValues, textOf } from "../command.ts";
import { type House, sayForce, sayPercent } from "../quantities.ts";
import type { CheckStep } from "./plan.ts";

/** 1 where no set should be measured by the record, or where nobody can say. */
export const exitOf = (report: CheckReport | null | undefined): ExitCode =>
  report?.verdict?.is === "calibrate" || report?.verdict?.is === "cannot-tell" ? DID_NOT_HOLD : 0;

/** Writes the sheet wherever it was asked for; answers where, a sentence each. */
export function writeSheets(sheet: Sheet, flags: FlagValues, house: House): readonly string[] | Failure {
  const written: string[] = [];
  for (const [flag, render] of [
    ["sheet", htmlSheet],
    ["text", textSheet],
  ] as const) {
    const path = textOf(flags, flag);
    if (path === undefined) continue;
    try {
      writeFileSync(path, render(sheet, house).replace(/\n*$/, "\n"));
    } catch (error) {
      const why = (error as NodeJS.ErrnoException).code ?? String(error);
      return {
        exit: DID_NOT_HOLD,
        message: `the sheet cannot be written to ${path} (${why}): name another with \`check-loads ${sheet.record.station} --last --${flag} FILE\``,
      };
    }
    written.push(`sheet written to ${path}`);
  }
  return written;
}

/** One capture, as a line. */
export function sayCapture({ said, loading }: CheckStep, check: Check, house: House): string {
  const { force_N, indicated_force_N, relative_error } = check;
  const way = loading === "increasing" ? "up" : "down";
  if (relative_error === null) return `  ${said}, ${way}: ${sayForce(indicated_force_N, house, 2)}`;
  const error = `${relative_error < 0 ? "" : "+"}${sayPercent(relative_error, 2)}`;
  return `  ${said}, ${way}: ${sayForce(indicated_force_N, house, 2)} for ${sayForce(force_N, house, 2)}, ${error}`;
}

/** The answer of the quick check in a few lines. */
export function quickText({ levels, verdict, zero_remark }: CheckReport): string {
  const error = levels[0]?.mean_error ?? null;
  const within = error === null ? [] : [`${Math.abs(error) <= USABLE ? "Within" : "Not within"} 2 %.`];
  return [...within, ...(verdict === null ? [] : [verdict.text]), ...(zero_remark === null ? [] : [zero_remark])].join(
    "\n",
  );
}
