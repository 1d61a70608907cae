/** From the words of a command line to an exit code: finds the command, reads its flags, says what went wrong. */
import { parseArgs } from "node:util";
import { closest } from "../../protocol/requests/closest.ts";
import { VERSION } from "../run/version.ts";
import {
  type Command,
  DID_NOT_HOLD,
  type ExitCode,
  type Failure,
  type Flags,
  type FlagValues,
  type Terminal,
  wrongUsage,
} from "./command.ts";
import { COMMANDS } from "./commands.ts";
import { sentencesAt } from "./dialog/wrapped.ts";
import { sayCommandHelp, sayHelp } from "./help.ts";

/** Flags every command takes. */
const EVERYWHERE: Flags = {
  help: { help: "say how this command is used" },
  debug: { help: "where something breaks, say where in the program" },
};

/** Serial consoles, say, do not know how broad they are, and tell 0. */
const UNKNOWN_COLUMNS = 80;

export async function runCli(words: readonly string[], given: Terminal): Promise<ExitCode> {
  const terminal: Terminal = { ...given, columns: () => (given.columns() === 0 ? UNKNOWN_COLUMNS : given.columns()) };
  const json = words.includes("--json");
  try {
    const ended = await runCommand(words, terminal);
    if (typeof ended === "number") return ended;
    if (json && ended.refusal !== undefined) terminal.out(JSON.stringify({ error: ended.refusal }));
    terminal.error(sentencesAt(ended.message, terminal.columns()));
    return ended.exit;
  } catch (error) {
    const { message, stack } = error instanceof Error ? error : new Error(String(error));
    if (words.includes("--debug")) terminal.error(stack ?? message);
    else terminal.error(`something in the program broke (${message}): add --debug to see where`);
    return DID_NOT_HOLD;
  }
}

async function runCommand(words: readonly string[], terminal: Terminal): Promise<ExitCode | Failure> {
  const [name, ...rest] = words;
  if (name === "--help" || name === "help") {
    terminal.out(sayHelp(COMMANDS));
    return 0;
  }
  if (name === "--version") {
    terminal.out(VERSION);
    return 0;
  }
  if (name === undefined) return wrongUsage("say what to do: `tidemark --help` lists the commands");
  const entry = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (entry === undefined) {
    const near = closest(name, Object.keys(COMMANDS));
    const meant = near === null ? "`tidemark --help` lists them" : `did you mean \`tidemark ${near}\`?`;
    return wrongUsage(`there is no command ${name}: ${meant}`);
  }
  const { command } = await entry.load();
  const flags = { ...command.flags, ...EVERYWHERE };
  if (rest.includes("--help")) {
    terminal.out(sayCommandHelp(name, entry.summary, { ...command, flags }));
    return 0;
  }
  const read = readWords(rest, flags);
  if ("exit" in read) return wrongUsage(`${read.message} (\`tidemark ${name} --help\` says what it takes)`);
  const faulty = operandFault(command, read.operands);
  if (faulty !== null) return wrongUsage(`${faulty}, as in: ${command.example}`);
  return command.run({ ...read, terminal });
}

interface ReadWords {
  readonly operands: readonly string[];
  readonly flags: FlagValues;
}

function readWords(words: readonly string[], flags: Flags): ReadWords | Failure {
  const options = Object.fromEntries(
    Object.entries(flags).map(([name, { value }]) => [
      name,
      { type: value === undefined ? "boolean" : "string" } as const,
    ]),
  );
  try {
    const { values, positionals } = parseArgs({ args: [...words], options, allowPositionals: true, strict: true });
    return { operands: positionals, flags: values };
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    if (code?.startsWith("ERR_PARSE_ARGS") !== true) throw error;
    return wrongUsage(sayFlagFault(message, flags));
  }
}

/** The library names the flag in its message and nowhere else. */
function sayFlagFault(message: string, flags: Flags): string {
  const name = /'(?:-\w, )?-{1,2}([^\s'=]+)/.exec(message)?.[1] ?? "";
  const flag = Object.hasOwn(flags, name) ? flags[name] : undefined;
  if (flag?.value !== undefined) return `--${name} needs ${flag.value}; one that begins with - is written --${name}=-1`;
  if (flag !== undefined) return `--${name} stands alone`;
  const near = closest(name, Object.keys(flags));
  return near === null ? `there is no flag --${name}` : `there is no flag --${name}, did you mean --${near}?`;
}

function operandFault({ operands: names }: Command, operands: readonly string[]): string | null {
  const missing = names.slice(operands.length).filter((name) => !name.startsWith("["));
  if (missing.length > 0) return `${missing.join(" and ")} ${missing.length === 1 ? "is" : "are"} missing`;
  return operands.length > names.length ? `there is nothing to do with ${operands[names.length]}` : null;
}
