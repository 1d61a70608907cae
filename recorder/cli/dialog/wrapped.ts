/** Text in lines of a width, so that no terminal breaks a word. Pure. */

export const COLUMNS = 80;

/** Blank lines stay, and a number stays with its unit. What follows a dash or a name and two blanks is a column of its own. */
export function wrapped(text: string, columns = COLUMNS): string {
  return text
    .split("\n")
    .flatMap((line) => wrappedLine(line, columns - 1))
    .join("\n");
}

/** Sentences for a terminal of a width; null: nobody looks, and a line stays a line. What stands in columns stays as it is. */
export function sentencesAt(text: string, columns: number | null): string {
  if (columns === null) return text;
  const width = Math.min(columns, COLUMNS);
  return text
    .split("\n")
    .map((line) => (/\S {2,}\S/.test(line) ? line : wrapped(line, width)))
    .join("\n");
}

function wrappedLine(text: string, room: number): string[] {
  const indent = /^ *(?:- |\S.*? {2,})?/.exec(text)?.[0] ?? "";
  const next = " ".repeat(indent.length);
  const lines: string[] = [];
  let line = "";
  for (const word of text.slice(indent.length).split(/ +(?!%|(?:kgf?|g|lbf?|k?N|counts|s|h|min)\b)/)) {
    if (line !== "" && indent.length + line.length + 1 + word.length > room) {
      lines.push(line);
      line = word;
    } else line = line === "" ? word : `${line} ${word}`;
  }
  return [...lines, line].map((part, index) => (index === 0 ? indent : next) + part);
}
