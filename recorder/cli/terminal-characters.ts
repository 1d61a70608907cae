/** How broad a drawing in the terminal may be, and of which characters. */
import type { InCharacters } from "../drawing/in-characters.ts";
import type { Terminal } from "./command.ts";

const UNKNOWN_COLUMNS = 80;
/** A set does not become clearer by being broader. */
const BROADEST_COLUMNS = 120;
/** The text console of Linux has no Braille in its font. */
const PLAIN_TERMINALS = new Set(["linux", "dumb"]);

type Environment = Readonly<Record<string, string | undefined>>;

/**
 * Braille for somebody who looks at a terminal whose locale is UTF-8. Whatever reads a pipe or a file later may be set up
 * otherwise, so that gets ASCII, 80 columns broad.
 */
export function charactersFor(terminal: Pick<Terminal, "columns">, environment: Environment): InCharacters {
  const columns = terminal.columns();
  if (columns === null) return { columns: UNKNOWN_COLUMNS, characters: "ascii" };
  // An empty one counts as not set: POSIX, base definitions, 8.2.
  const locale = environment["LC_ALL"] || environment["LC_CTYPE"] || environment["LANG"] || "";
  const shows = /utf-?8/i.test(locale) && !PLAIN_TERMINALS.has(environment["TERM"] ?? "");
  // Some terminals do not know how broad they are.
  return { columns: Math.min(columns || UNKNOWN_COLUMNS, BROADEST_COLUMNS), characters: shows ? "braille" : "ascii" };
}
