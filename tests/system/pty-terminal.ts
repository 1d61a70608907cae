/**
 * A command of the built program at a terminal of its own: socat makes the pseudo-terminal and gives it to the command as
 * its controlling one, so that Ctrl-C is a key and a redrawn line is redrawn. What is said is waited for, not timed.
 */
import { type ChildProcessWithoutNullStreams, spawn } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";

const MAIN = process.env["TIDEMARK_MAIN"] ?? fileURLToPath(new URL("../../dist/recorder/main.js", import.meta.url));
const COLUMNS = 100;
const LONGEST_MS = 60_000;
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what a terminal is driven with
const CONTROL = /\x1b\[[0-9;?]*[A-Za-z]/g;

export class PtyTerminal {
  readonly #socat: ChildProcessWithoutNullStreams;
  readonly #ended: Promise<number | null>;
  readonly #waiting = new Set<() => void>();
  #said = "";
  #read = 0;

  constructor(words: readonly string[]) {
    const command = [process.execPath, MAIN, ...words].map((word) => `'${word}'`).join(" ");
    // The exit code is said at the end: socat has one of its own.
    const script = `stty cols ${COLUMNS} rows 40; ${command}; echo "exit code $?"`;
    this.#socat = spawn("socat", ["STDIO", "EXEC:sh,pty,setsid,ctty,stderr,echo=0"], {
      env: { ...process.env, TERM: "xterm", PS1: "" },
    });
    this.#ended = once(this.#socat, "exit").then(([code]) => code as number | null);
    this.#socat.stdout.on("data", (bytes: Buffer) => {
      this.#said += bytes.toString();
      for (const look of this.#waiting) look();
    });
    this.#socat.stdin.on("error", () => {});
    this.#socat.stdin.write(`${script}; exit\n`);
  }

  /** Everything shown so far, as it came. */
  get said(): string {
    return this.#said;
  }

  /** What stays on the screen: of a line that was redrawn its last form, without what only drives the terminal. */
  get screen(): string {
    return this.#said
      .replaceAll(CONTROL, "")
      .split(/\r?\n/)
      .map((line) => line.slice(line.lastIndexOf("\r") + 1).trimEnd())
      .join("\n");
  }

  /**
   * Waits for this to be shown, behind what was waited for before, and returns all from there to its end. It is looked for at
   * every byte of a screen that is redrawn all the time: a pattern that begins with anything at all would stall the test.
   */
  until(what: RegExp): Promise<string> {
    return new Promise((resolve, reject) => {
      const look = (): void => {
        const unread = this.#said.slice(this.#read);
        const found = what.exec(unread);
        if (found === null) return;
        const length = found.index + found[0].length;
        this.#read += length;
        clearTimeout(patience);
        this.#waiting.delete(look);
        resolve(unread.slice(0, length));
      };
      const patience = setTimeout(() => {
        this.#waiting.delete(look);
        reject(new Error(`${what} was not shown within ${LONGEST_MS / 1000} s, but:\n${this.screen.slice(-1500)}`));
      }, LONGEST_MS);
      this.#waiting.add(look);
      look();
    });
  }

  type(text: string): void {
    this.#socat.stdin.write(text);
  }

  enter(text = ""): void {
    this.type(`${text}\r`);
  }

  interrupt(): void {
    this.type("\x03");
  }

  /** The exit code of the command, once it has ended. */
  async exit(): Promise<number> {
    const said = await this.until(/exit code \d+/);
    return Number(said.split(" ").at(-1));
  }

  async close(): Promise<void> {
    if (this.#socat.exitCode !== null || this.#socat.signalCode !== null) return;
    this.#socat.kill("SIGKILL");
    await this.#ended;
  }
}
