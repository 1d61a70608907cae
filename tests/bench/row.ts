/** What a bench has to say: one row a budget, and the table of all. */
import { cpus, release } from "node:os";

export interface Row {
  readonly what: string;
  readonly budget: string;
  readonly measured: string;
  /** The same measure between two of the same thing, beside which the measured one is to be read; "": it has none. */
  readonly against_itself: string;
  readonly ok: boolean;
}

/** The row of what could not be measured, which is not a pass. */
export const unmeasured = (what: string, budget: string, why: string): Row => ({
  what,
  budget,
  measured: why,
  against_itself: "",
  ok: false,
});

export function machine(): string {
  const [first] = cpus();
  return `${first?.model ?? "unknown processor"}, ${cpus().length} cores, kernel ${release()}, Node ${process.versions.node}`;
}

export function table(rows: readonly Row[]): string {
  const head = ["what", "budget", "measured", "A/A", ""];
  const body = rows.map((row) => [row.what, row.budget, row.measured, row.against_itself, row.ok ? "pass" : "FAIL"]);
  const cells = [head, ...body];
  const widths = head.map((_, column) => Math.max(...cells.map((row) => (row[column] ?? "").length)));
  return cells
    .map((row) =>
      row
        .map((cell, column) => cell.padEnd(widths[column] ?? 0))
        .join("  ")
        .trimEnd(),
    )
    .join("\n");
}
