/** A clock the test turns. */
import type { LinkClock } from "../../../recorder/serial/clock.ts";

export class ManualClock implements LinkClock {
  #now_us = 0;
  readonly #timers = new Set<{ readonly due_us: number; readonly run: () => void }>();

  now_us(): number {
    return this.#now_us;
  }

  after(delay_ms: number, run: () => void): () => void {
    const timer = { due_us: this.#now_us + delay_ms * 1000, run };
    this.#timers.add(timer);
    return () => void this.#timers.delete(timer);
  }

  /** Timers that are due run in order, and streams and promises settle after each. */
  async advance(ms: number): Promise<void> {
    const until_us = this.#now_us + ms * 1000;
    await settle();
    for (let timer = this.#next(until_us); timer !== undefined; timer = this.#next(until_us)) {
      this.#now_us = Math.max(this.#now_us, timer.due_us);
      this.#timers.delete(timer);
      timer.run();
      await settle();
    }
    this.#now_us = until_us;
  }

  /** Time passes while the event loop stands still: timers run once, late, when it turns again. */
  async stall(ms: number): Promise<void> {
    this.#now_us += ms * 1000;
    for (let timer = this.#next(this.#now_us); timer !== undefined; timer = this.#next(this.#now_us)) {
      this.#timers.delete(timer);
      timer.run();
    }
    await settle();
  }

  get pending(): number {
    return this.#timers.size;
  }

  #next(until_us: number) {
    return [...this.#timers].filter(({ due_us }) => due_us <= until_us).sort((a, b) => a.due_us - b.due_us)[0];
  }
}

/** Two turns of the event loop: streams hand on what they hold. */
export async function settle(): Promise<void> {
  for (let turn = 0; turn < 2; turn++) await new Promise((resolve) => setImmediate(resolve));
}
