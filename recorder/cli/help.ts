/** How the commands say what they are for. */
import type { Command, Flags } from "./command.ts";
import type { Entry } from "./commands.ts";
import { sayTable } from "./table.ts";

export function sayHelp(commands: Readonly<Record<string, Entry>>): string {
  return [
    "Reads the force sensors of a training room, calls the stop at the chosen loss of strength and keeps every set.",
    "",
    "tidemark COMMAND ...",
    "",
    indented(sayTable(Object.entries(commands).map(([name, { summary }]) => [name, summary]))),
    "",
    "`tidemark COMMAND --help` says more, with an example. Try it without hardware: tidemark run --simulate",
  ].join("\n");
}

export function sayCommandHelp(name: string, summary: string, { operands, flags, example }: Command): string {
  return [
    `tidemark ${[name, ...operands].join(" ")} ...: ${summary}`,
    "",
    indented(sayTable(flagRows(flags))),
    "",
    `Example: ${example}`,
  ].join("\n");
}

const flagRows = (flags: Flags): string[][] =>
  Object.entries(flags).map(([name, { value, help }]) => [
    value === undefined ? `--${name}` : `--${name} ${value}`,
    help,
  ]);

const indented = (text: string): string => text.replaceAll(/^/gm, "  ");
