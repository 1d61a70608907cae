/** How the commands say what they are for. */
import type { Command, Flags } from "./command.ts";
import type { Entry } from "./commands.ts";
import { COLUMNS, wrapped } from "./dialog/wrapped.ts";
import { sayTable } from "./table.ts";

export function sayHelp(commands: Readonly<Record<string, Entry>>): string {
  return [
    wrapped(
      "Reads the force sensors of a training room, calls the stop at the chosen loss of strength and keeps every set.",
    ),
    "",
    "tidemark COMMAND ...",
    "",
    indented(sayTable(Object.entries(commands).map(([name, { summary }]) => [name, summary]))),
    "",
    "`tidemark COMMAND --help` says more, with an example.",
    "Try it without hardware: tidemark run --simulate",
  ].join("\n");
}

export function sayCommandHelp(name: string, summary: string, { operands, flags, example }: Command): string {
  return [
    wrapped(`tidemark ${[name, ...operands].join(" ")} ...: ${summary}`),
    "",
    sayFlags(flags),
    "",
    `Example: ${example}`,
  ].join("\n");
}

/** Columns a flag and its value have beside their help; one that is longer has its help under it. */
const FLAG_COLUMNS = 25;

function sayFlags(flags: Flags): string {
  return Object.entries(flags)
    .flatMap(([name, { value, help }]) => {
      const flag = value === undefined ? `--${name}` : `--${name} ${value}`;
      const [first = "", ...more] = wrapped(help, COLUMNS - FLAG_COLUMNS - 4).split("\n");
      const under = " ".repeat(FLAG_COLUMNS);
      const head =
        flag.length > FLAG_COLUMNS ? [flag, `${under}  ${first}`] : [`${flag.padEnd(FLAG_COLUMNS)}  ${first}`];
      return [...head, ...more.map((line) => `${under}  ${line}`)];
    })
    .map((line) => `  ${line}`)
    .join("\n");
}

const indented = (text: string): string => text.replaceAll(/^/gm, "  ");
