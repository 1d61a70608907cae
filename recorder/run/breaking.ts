/**
 * A program that broke: an exception nobody caught, or a rejection nobody waited for, which Node takes for the same. Its
 * state is not to be trusted any more, so it only says so, has what runs kept as an ordinary stop would, and ends with 1;
 * starting again is the service manager's job.
 */
import type { ServiceLog } from "./log.ts";

/** An ordinary stop takes less than five seconds; one of a broken program may never end. */
const END_WITHIN_MS = 6000;

/** The signal is given when the program has broken. For good: whatever else breaks while it ends is said and no more. */
export function whenBroken(log: Pick<ServiceLog, "fatal" | "error">): AbortSignal {
  const broken = new AbortController();
  process.on("uncaughtException", (err) => {
    if (broken.signal.aborted) {
      log.error({ err }, "The program broke again while it ended.");
      return;
    }
    log.fatal(
      { err },
      "The program broke, and ends: what was kept is safe, and what runs is kept as far as it can be.",
    );
    setTimeout(() => process.exit(1), END_WITHIN_MS).unref();
    broken.abort();
  });
  return broken.signal;
}
