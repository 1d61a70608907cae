/** The store, with its writing timed: a card that grows old says so first by how long it takes. */
import type { Store } from "../ports.ts";

export class WriteTimes {
  readonly #now_ms: () => number;
  readonly #begun = new Set<{ readonly at_ms: number }>();
  #last_ms = 0;
  #slowest_ms = 0;
  #checkpoints_failing = 0;

  /** `now_ms` is monotonic. */
  constructor(now_ms: () => number) {
    this.#now_ms = now_ms;
  }

  /** Times writing; its answer is the store's. */
  of(store: Store): Store {
    const timed =
      <Args extends readonly unknown[], Result>(work: (...args: Args) => Promise<Result>) =>
      (...args: Args): Promise<Result> =>
        this.#time(work(...args));
    return {
      ...store,
      keep: timed((set) => store.keep(set)),
      checkpoint: timed((parts) => this.#checkpoint(store.checkpoint(parts))),
      sent: timed((row) => store.sent(row)),
      saveZero: timed((station, zero) => store.saveZero(station, zero)),
      saveCalibration: timed((record) => store.saveCalibration(record)),
      saveCheck: timed((check) => store.saveCheck(check)),
      useCalibration: timed((use) => store.useCalibration(use)),
    };
  }

  /** The slowest of the last full minute, the one that runs, and what is not done yet, s. */
  get slowest_s(): number {
    const oldest = this.#begun.values().next().value;
    const waiting_ms = oldest === undefined ? 0 : this.#now_ms() - oldest.at_ms;
    return Math.max(this.#last_ms, this.#slowest_ms, waiting_ms) / 1000;
  }

  /** Checkpoints that failed since the store last took anything. */
  get checkpoints_failing(): number {
    return this.#checkpoints_failing;
  }

  /** A minute is full. */
  turn(): void {
    this.#last_ms = this.#slowest_ms;
    this.#slowest_ms = 0;
  }

  async #time<Result>(work: Promise<Result>): Promise<Result> {
    const begun = { at_ms: this.#now_ms() };
    this.#begun.add(begun);
    try {
      const result = await work;
      this.#checkpoints_failing = 0;
      return result;
    } finally {
      this.#begun.delete(begun);
      this.#slowest_ms = Math.max(this.#slowest_ms, this.#now_ms() - begun.at_ms);
    }
  }

  async #checkpoint(work: Promise<void>): Promise<void> {
    try {
      await work;
    } catch (error) {
      this.#checkpoints_failing += 1;
      throw error;
    }
  }
}
