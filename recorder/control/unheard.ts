/** Requests that nobody could be answered about, counted by name; a flood of them is a line now and then, not one each. */
import type { Log } from "./ports.ts";

const QUIET_MS = 10 * 60_000;

export class Unheard<Why extends string> {
  readonly #sentences: Readonly<Record<Why, string>>;
  readonly #log: Pick<Log, "warn">;
  readonly #now_ms: () => number;
  readonly #counts = new Map<Why, number>();
  readonly #said_ms = new Map<Why, number>();

  /** `now_ms` is monotonic. */
  constructor(sentences: Readonly<Record<Why, string>>, log: Pick<Log, "warn">, now_ms: () => number) {
    this.#sentences = sentences;
    this.#log = log;
    this.#now_ms = now_ms;
  }

  count(why: Why): void {
    const counted = (this.#counts.get(why) ?? 0) + 1;
    this.#counts.set(why, counted);
    const now_ms = this.#now_ms();
    if (now_ms - (this.#said_ms.get(why) ?? Number.NEGATIVE_INFINITY) < QUIET_MS) return;
    this.#said_ms.set(why, now_ms);
    this.#log.warn({ why, counted }, this.#sentences[why]);
  }

  counts(): Readonly<Record<string, number>> {
    return Object.fromEntries(this.#counts);
  }
}
