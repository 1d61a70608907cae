/** Somebody who reads a line and publishes: what it was given and when, and how long each took to the subscriber. */
import type { Pty } from "./pty.ts";
import { pause } from "./stage.ts";

/** Sooner than the recorder says a live value on its own, which would stand in for one that is missing. */
const PATIENCE_MS = 800;

export class Runner {
  readonly name: string;
  readonly #pty: Pty;
  /** When what it owes was written, ms, oldest first; NaN: not measured. */
  readonly #owed: number[] = [];
  #taken: number[] = [];
  /** Messages that nobody expected: the pairing of lines and messages cannot be trusted. */
  unexpected = 0;

  constructor(name: string, pty: Pty) {
    this.name = name;
    this.#pty = pty;
  }

  /** Writes to its line; so many messages must follow. */
  give(text: string, messages: number, measured: boolean): void {
    const at_ms = measured ? performance.now() : Number.NaN;
    for (let message = 0; message < messages; message++) this.#owed.push(at_ms);
    this.#pty.write(text);
  }

  /** A message of its has come. */
  heard(): void {
    const now_ms = performance.now();
    const given_ms = this.#owed.shift();
    if (given_ms === undefined) this.unexpected += 1;
    else if (!Number.isNaN(given_ms)) this.#taken.push(now_ms - given_ms);
  }

  get owes(): number {
    return this.#owed.length;
  }

  /** Forgets what came while things were still finding their feet. */
  forget(): void {
    this.#owed.length = 0;
    this.unexpected = 0;
    this.#taken = [];
  }

  /** How long each took since the last call, ms. */
  take(): readonly number[] {
    const taken = this.#taken;
    this.#taken = [];
    return taken;
  }

  /** Waits for all that is owed; throws unless just that came, and nothing was lost. */
  async settle(): Promise<void> {
    const until_ms = performance.now() + PATIENCE_MS;
    while (this.owes > 0 && performance.now() < until_ms) await pause(2);
    if (this.owes === 0 && this.unexpected === 0 && this.#pty.lost === 0) return;
    throw new Error(
      `${this.name}: ${this.owes} messages are missing, ${this.unexpected} were not expected, ${this.#pty.lost} lines were lost`,
    );
  }
}
