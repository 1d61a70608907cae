/** Judges a kept set again. Holds its place until the engine can be joined to it: it says so, and does nothing. */
import type { ReplaySet } from "../control/ports.ts";

export const replaySet: ReplaySet = () => {
  throw new Error("the engine is not joined to replay in this build");
};
