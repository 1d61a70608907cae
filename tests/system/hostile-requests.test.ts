/** A hundred thousand wrong requests at each door; with TIDEMARK_LONG=1 ten times as many. */
import { hostileTrials } from "../recorder/run/hostile-trials.ts";

hostileTrials(process.env["TIDEMARK_LONG"] === "1" ? 1_000_000 : 100_000);
