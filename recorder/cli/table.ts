/** Columns for people, two spaces apart. */

/** `right` lists the columns whose cells end under each other, as numbers should. */
export function sayTable(rows: readonly (readonly string[])[], right: readonly number[] = []): string {
  const widths: number[] = [];
  for (const row of rows) {
    for (const [column, cell] of row.entries()) widths[column] = Math.max(widths[column] ?? 0, cell.length);
  }
  return rows
    .map((row) =>
      row
        .map((cell, column) => (right.includes(column) ? cell.padStart(widths[column]!) : cell.padEnd(widths[column]!)))
        .join("  ")
        .trimEnd(),
    )
    .join("\n");
}
