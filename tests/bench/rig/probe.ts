/**
 * Loaded into a process before its program: says over IPC what the process has used so far. The watch on the event loop
 * wakes it every millisecond, so it runs only while it is asked for.
 */
import { monitorEventLoopDelay } from "node:perf_hooks";

export type Asked = "used" | "watch" | "late";

export interface Used {
  /** Processor time of all its threads since it began, us. */
  readonly cpu_us: number;
  readonly rss_bytes: number;
}

const watch = monitorEventLoopDelay({ resolution: 1 });

process.on("message", (asked: Asked) => {
  if (asked === "watch") {
    watch.reset();
    watch.enable();
  } else if (asked === "late") {
    watch.disable();
    // 99 % of the turns since were no later than this, ms.
    process.send?.({ late_ms: watch.percentile(99) / 1e6 });
  } else if (asked === "used") {
    const { user, system } = process.cpuUsage();
    const used: Used = { cpu_us: user + system, rss_bytes: process.memoryUsage.rss() };
    process.send?.({ used });
  }
});
// The program decides how long the process lives.
process.channel?.unref();
