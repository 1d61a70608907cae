/** Somebody at the terminal who hangs the loads: one instruction a step, the live value while it is read, few questions. */
import type { Terminal } from "../command.ts";
import { type Input, linesOf as typedLines } from "../dialog/lines.ts";
import { countdown, type LiveFeed, sayLive } from "../dialog/live.ts";
import type { House } from "../quantities.ts";
import type { Technician } from "./technician.ts";

/** The next line somebody types; null: nobody can, or it was broken off. */
export type NextLine = () => Promise<string | null>;

export interface Sitting {
  readonly terminal: Pick<Terminal, "write" | "columns">;
  readonly note: (text: string) => void;
  readonly nextLine: NextLine;
  readonly feed: LiveFeed;
  readonly house: House;
}

export function guided({ terminal, note, nextLine, feed, house }: Sitting): Technician {
  const redrawn = terminal.columns() !== null;
  const prompt = (): void => {
    if (redrawn) terminal.write("> ");
  };
  const yes = async (question: string, otherwise: boolean): Promise<boolean> => {
    note(`${question} [${otherwise ? "Y/n" : "y/N"}]`);
    prompt();
    const said = (await nextLine())?.trim().toLowerCase();
    if (said === undefined) return false;
    return said === "" ? otherwise : said.startsWith("y");
  };
  return {
    async instruct(text) {
      note(`\n${text}\nPress Enter when that is so.`);
      prompt();
      return (await nextLine()) !== null;
    },
    async during(said, takes_s, work) {
      if (!redrawn) return work;
      const width = (terminal.columns() ?? 80) - 1;
      const draw = (text: string): void => terminal.write(`\r\x1b[2K${text.slice(0, width)}`);
      const left = countdown(takes_s);
      draw(`  reading ${said}: hands off`);
      const deaf = feed.hear((live) => draw(`  reading ${said}: ${sayLive(live, house)}${left(live)}: hands off`));
      try {
        return await work;
      } finally {
        deaf();
        draw("");
      }
    },
    note,
    again: (why) => {
      note(`  ${why}`);
      return yes("Try this step again?", true);
    },
    keep: () => yes("Keep this check?", true),
  };
}

/** What somebody types; null once it is broken off. */
export function linesOf(input: Input, interrupted: AbortSignal): { next: NextLine; close: () => void } {
  const lines = typedLines(input, interrupted);
  const broken = lines.broken.then(() => null);
  return { next: () => Promise.race([broken, lines.next()]), close: lines.close };
}
