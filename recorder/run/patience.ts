/** The wait between tries of something that keeps failing: longer each time, up to a minute, and none once it is stopped. */
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 60_000;

export class Patience {
  #wait_ms = FIRST_WAIT_MS;
  #wake: (() => void) | null = null;
  #stopped = false;

  /** Whatever fails from now on is not tried again. */
  get stopped(): boolean {
    return this.#stopped;
  }

  wait(): Promise<void> {
    const wait_ms = this.#wait_ms;
    this.#wait_ms = Math.min(LONGEST_WAIT_MS, wait_ms * 2);
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, wait_ms);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }

  /** It went well: the next failure is tried again as soon as the first was. */
  renew(): void {
    this.#wait_ms = FIRST_WAIT_MS;
  }

  /** Ends a wait that is under way. */
  hurry(): void {
    this.#wake?.();
  }

  stop(): void {
    this.#stopped = true;
    this.hurry();
  }
}
