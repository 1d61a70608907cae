/**
 * Somebody at a terminal who is told what to do and asked what they have done. Where a terminal redraws, the live value
 * stands above what they type; in a pipe everything is a line. No colour, and nothing that needs more than 80 columns.
 *
 * The terminal keeps its own line editing and its own Ctrl-C, so that a command that dies leaves it as it was.
 */
import type { Terminal } from "../command.ts";
import type { House } from "../quantities.ts";
import type { Lines } from "./lines.ts";
import { countdown, type Live, type LiveFeed, sayLive } from "./live.ts";
import { COLUMNS, wrapped } from "./wrapped.ts";

export interface Dialog {
  readonly say: (text: string) => void;
  /** A question with what may be answered; the answer without the blanks around it. */
  readonly ask: (question: string) => Promise<string>;
  /** An instruction that is to be carried out, the live value meanwhile. `words`: what may be typed instead of Enter. */
  readonly instruct: (instruction: string, words?: string) => Promise<string>;
  /** Asks until it is yes or no. `otherwise`: what Enter means; null: nothing. */
  readonly yes: (question: string, otherwise: boolean | null) => Promise<boolean>;
  /** While the sensor is read, `takes_s` of its own time. */
  readonly reading: <T>(takes_s: number, work: Promise<T>) => Promise<T>;
}

export interface Sitting {
  readonly terminal: Pick<Terminal, "out" | "write" | "columns">;
  readonly lines: Lines;
  readonly feed: LiveFeed;
  readonly house: House;
}

/** Saves the cursor, goes to the line above and clears it; afterwards back to where somebody types. */
const ABOVE = ["\x1b7\x1b[1A\r\x1b[2K", "\x1b8"] as const;
const AFRESH = "\r\x1b[2K";

export function dialogAt({ terminal, lines, feed, house }: Sitting): Dialog {
  const redrawn = terminal.columns() !== null;
  const width = (): number => Math.min(terminal.columns() ?? COLUMNS, COLUMNS);
  const fitting = (text: string): string => text.slice(0, width() - 1);
  const say = (text: string): void => terminal.out(wrapped(text, width()));

  async function prompted(question: string, prompt: string): Promise<string> {
    say(question);
    if (redrawn) terminal.write(prompt);
    return (await lines.next()).trim();
  }

  return {
    say,
    ask: (question) => prompted(question, "? "),
    async instruct(instruction, words) {
      say(`\n${instruction}`);
      say(`Press Enter when that is so${words === undefined ? "" : `, or type ${words}`}.`);
      const show = (live: Live): string => fitting(`  now ${sayLive(live, house)}`);
      if (redrawn) terminal.write("  now -\n> ");
      const deaf = feed.hear((live) => {
        if (redrawn) return terminal.write(`${ABOVE[0]}${show(live)}${ABOVE[1]}`);
        deaf();
        terminal.out(show(live));
      });
      const typed = await lines.next();
      deaf();
      return typed.trim().toLowerCase();
    },
    async yes(question, otherwise) {
      const choice = otherwise === null ? "y/n" : otherwise ? "Y/n" : "y/N";
      for (;;) {
        const typed = (await prompted(`${question} [${choice}]`, "> ")).toLowerCase();
        if (typed === "" && otherwise !== null) return otherwise;
        if (typed === "y" || typed === "yes") return true;
        if (typed === "n" || typed === "no") return false;
        say("Type yes or no.");
      }
    },
    async reading(takes_s, work) {
      if (!redrawn) {
        terminal.out(`  reading for ${Math.round(takes_s)} s: hands off`);
        return work;
      }
      const left = countdown(takes_s);
      terminal.write(`${AFRESH}  reading: hands off`);
      const deaf = feed.hear((live) => {
        terminal.write(AFRESH + fitting(`  reading: ${sayLive(live, house)}${left(live)}: hands off`));
      });
      try {
        return await work;
      } finally {
        deaf();
        terminal.write(AFRESH);
      }
    },
  };
}
