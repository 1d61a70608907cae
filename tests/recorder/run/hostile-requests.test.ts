/** Ten thousand wrong requests at each door; the system suite sends ten times as many. */
import { hostileTrials } from "./hostile-trials.ts";

hostileTrials(10_000);
