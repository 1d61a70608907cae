/** Runs the recorder. Holds its place until the stations can be joined to it: it says so, and does nothing. */
import type { RunService } from "../control/ports.ts";

export const runService: RunService = () =>
  Promise.reject(new Error("the recorder is not joined together in this build"));
