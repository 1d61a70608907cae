/** A terminal that remembers what was said. */
import { PassThrough } from "node:stream";
import { runCli } from "../../../recorder/cli/cli.ts";
import type { Terminal } from "../../../recorder/cli/command.ts";

export interface FakeTerminal extends Terminal {
  readonly said: string[];
  readonly complained: string[];
  readonly interrupt: () => void;
  /** What somebody types; its end is the end of what they have to say. */
  readonly typed: PassThrough;
  /** Resolves once so many lines or redraws were said. */
  readonly heard: (count: number) => Promise<void>;
}

export function fakeTerminal(columns: number | null = null): FakeTerminal {
  const said: string[] = [];
  const complained: string[] = [];
  const controller = new AbortController();
  const waiting = new Set<() => void>();
  const typed = new PassThrough();
  const say = (text: string): void => {
    said.push(text);
    for (const wake of waiting) wake();
  };
  return {
    said,
    complained,
    out: say,
    write: say,
    error: (text) => complained.push(text),
    columns: () => columns,
    typed,
    input: () => typed,
    interrupted: () => controller.signal,
    interrupt: () => controller.abort(),
    heard: (count) =>
      new Promise((resolve) => {
        const wake = (): void => {
          if (said.length >= count) resolve();
        };
        waiting.add(wake);
        wake();
      }),
  };
}

export interface Ran {
  readonly exit: number;
  readonly out: string;
  readonly error: string;
}

/** A command line, run to its end in this process; nobody types anything. */
export async function cli(...words: readonly string[]): Promise<Ran> {
  const terminal = fakeTerminal();
  terminal.typed.end();
  const exit = await runCli(words, terminal);
  return { exit, out: terminal.said.join("\n"), error: terminal.complained.join("\n") };
}
