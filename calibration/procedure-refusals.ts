/** What is said to whoever asks a calibration for something it cannot do now. */
import type { Refusal } from "../protocol/vocabulary.ts";
import { type Refused, refusal } from "./outcome.ts";
import type { OpenProcedure } from "./procedure.ts";

export const NOT_OPEN = refusal(
  "bad-request",
  "No calibration is open at this station.",
  "Begin one with calibration-begin.",
);
export const CAPTURE_RUNNING = refusal("busy", "A still window is being taken.", "Wait for its answer.");
export const ACCEPT_RUNNING = refusal("busy", "The accepted record is being kept.", "Wait for its answer.");
export const UNLOADED_FIRST = refusal(
  "bad-request",
  "The unloaded point comes first.",
  "Take everything off and ask for calibration-zero.",
);

/** What any other use of the station is told while the procedure is open. */
export function busyCalibrating(state: OpenProcedure): Refusal {
  const who = state.by ?? "somebody unnamed";
  return {
    code: "busy",
    message: `Station ${state.facts.station} is being calibrated by ${who} since ${state.since}.`,
    hint: "Wait until it is accepted, or abandon it with calibration-abandon.",
  };
}

/** A recorder that was restarted knows only the board's clock, and that wraps. */
export function stillCold(left_s: number): Refused {
  return refusal(
    "not-still",
    `The electronics are warming up for another ${Math.ceil(left_s / 60)} min: their drift would be calibrated in.`,
    "Leave the power on and take the point then. Where the recorder was restarted a warm board may be taken for a cold one, since its clock begins again every 71.6 min; that is over in 15 min as well.",
  );
}
