/**
 * One line of a table after RFC 4180: a field is quoted where it must be, a quote in it doubled, and the line ends in CR LF.
 * Nothing here asks in which country the program runs.
 */

export type Cell = string | number | boolean | null;

export interface CsvForm {
  readonly separator: "," | ";";
  /** Of numbers. */
  readonly decimal: "." | ",";
}

/** As RFC 4180 has it. */
export const RFC_4180: CsvForm = { separator: ",", decimal: "." };
/** For spreadsheets in languages that write 0,5: there a comma cannot part the fields. */
export const DECIMAL_COMMA: CsvForm = { separator: ";", decimal: "," };

/** What makes such a spreadsheet read UTF-8. RFC 4180 knows no such mark, so the other form has none. */
export const BYTE_ORDER_MARK = "\ufeff";

/** Truth is `true` or `false`, what is not known is empty. */
export const csvRecord = (cells: readonly Cell[], form: CsvForm): string =>
  `${cells.map((cell) => fieldOf(cell, form)).join(form.separator)}\r\n`;

function fieldOf(cell: Cell, { decimal }: CsvForm): string {
  if (cell === null) return "";
  if (typeof cell === "number") return String(cell).replace(".", decimal);
  return quoted(typeof cell === "string" ? harmless(cell) : String(cell));
}

/** Either form's separator, and a tabulator, may be taken for one by a program that guesses; blanks at an end may be cut. */
const quoted = (text: string): string => (/[",;\t\r\n]|^ | $/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);

/** The signs that begin a formula, the wide ones of East Asian keyboards among them. */
const FORMULA = /^'*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]/;
const NUMBER = /^[+-]?\d+([.,]\d+)?$/;

/**
 * A text that a spreadsheet would carry out as a formula gets an apostrophe before it. One that began with an apostrophe
 * and such a sign gets another, so that taking the first one off gives back every text.
 */
const harmless = (text: string): string => (FORMULA.test(text) && !NUMBER.test(text) ? `'${text}` : text);
