/** What has been started, to be stopped in the opposite order. One part that fails to stop does not keep the others. */
import type { ServiceLog } from "./log.ts";

export class Running {
  readonly #log: Pick<ServiceLog, "error">;
  readonly #steps: (() => Promise<void>)[] = [];
  #stopped: Promise<void> | null = null;

  constructor(log: Pick<ServiceLog, "error">) {
    this.#log = log;
  }

  stopWith(step: () => Promise<void>): void {
    this.#steps.push(step);
  }

  /** Asked twice, it stops once. */
  stop(): Promise<void> {
    this.#stopped ??= this.#stop();
    return this.#stopped;
  }

  async #stop(): Promise<void> {
    for (const step of this.#steps.reverse()) {
      try {
        await step();
      } catch (error) {
        this.#log.error({ err: error }, "a part of the recorder did not stop");
      }
    }
  }
}
