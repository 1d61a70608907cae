/** How late the program is: between the moment something is due and the moment it runs, a stop waits for nothing else. */
import { monitorEventLoopDelay } from "node:perf_hooks";
import { timeOut } from "../../protocol/units.ts";

/** Often enough to see what a person could; each look wakes the processor. */
const LOOK_EVERY_MS = 20;

/** s; the worse of the last full minute and the one that runs. */
export interface Delay {
  readonly p50_s: number;
  readonly p99_s: number;
  readonly max_s: number;
}

const NONE: Delay = { p50_s: 0, p99_s: 0, max_s: 0 };

export class EventLoop {
  readonly #histogram = monitorEventLoopDelay({ resolution: LOOK_EVERY_MS });
  #last: Delay = NONE;

  constructor() {
    this.#histogram.enable();
  }

  get delay(): Delay {
    const now = this.#now();
    const worse = (name: keyof Delay): number => Math.max(now[name], this.#last[name]);
    return { p50_s: worse("p50_s"), p99_s: worse("p99_s"), max_s: worse("max_s") };
  }

  /** A minute is full. */
  turn(): void {
    this.#last = this.#now();
    this.#histogram.reset();
  }

  /** What was so far does not count. */
  forget(): void {
    this.#last = NONE;
    this.#histogram.reset();
  }

  stop(): void {
    this.#histogram.disable();
  }

  #now(): Delay {
    const histogram = this.#histogram;
    if (histogram.count === 0) return NONE;
    // What it holds are the times between its looks, in ns.
    const late_s = (ns: number): number => timeOut(Math.max(0, ns / 1e9 - LOOK_EVERY_MS / 1000)) ?? 0;
    return {
      p50_s: late_s(histogram.percentile(50)),
      p99_s: late_s(histogram.percentile(99)),
      max_s: late_s(histogram.max),
    };
  }
}
