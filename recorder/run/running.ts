/**
 * What has been started, to be stopped in the opposite order. Each part has a time of its own for it: one that fails or
 * hangs does not keep the others, and all of them together stay under the five seconds a service manager is promised.
 */
import { within } from "../within.ts";
import type { ServiceLog } from "./log.ts";

interface Step {
  readonly what: string;
  readonly within_ms: number;
  readonly stop: () => Promise<void>;
}

export class Running {
  readonly #log: Pick<ServiceLog, "error">;
  readonly #steps: Step[] = [];
  #stopped: Promise<void> | null = null;

  constructor(log: Pick<ServiceLog, "error">) {
    this.#log = log;
  }

  /** `what` begins a sentence. */
  stopWith(what: string, within_ms: number, stop: () => Promise<void>): void {
    this.#steps.push({ what, within_ms, stop });
  }

  /** Asked twice, it stops once. */
  stop(): Promise<void> {
    this.#stopped ??= this.#stop();
    return this.#stopped;
  }

  async #stop(): Promise<void> {
    for (const { what, within_ms, stop } of this.#steps.reverse()) {
      try {
        if (!(await within(within_ms, stop()))) this.#log.error({}, `${what} did not stop within ${within_ms} ms.`);
      } catch (error) {
        this.#log.error({ err: error }, `${what} did not stop as it should.`);
      }
    }
  }
}
