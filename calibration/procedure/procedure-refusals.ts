/** What is said to whoever asks a calibration for something it cannot do now. */
import type { Refusal } from "../../protocol/vocabulary.ts";
import { type Refused, refusal, shown } from "../outcome.ts";
import type { KnownLoad } from "./known-load.ts";
import type { OpenProcedure } from "./procedure-state.ts";

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
/** To the window that a new epoch breaks off. */
export const INTERRUPTED = refusal(
  "sensor-fault",
  "The sensor's line was interrupted: the points taken so far are gone.",
  "See that its plug is in, then begin again with the unloaded point.",
);
/** To whoever goes on afterwards as if they were still there. */
export const POINTS_GONE = refusal(
  "bad-request",
  "The points taken so far are gone: the line was interrupted or the board restarted.",
  "Begin again with the unloaded point; to keep no more than was found, abandon, begin and check again.",
);

export const NO_SCALE_TO_CHECK = refusal(
  "no-calibration",
  "No record is in force here that fits what is on the line: there is no scale to check.",
  "Take the points first, then check the new scale.",
);
export const CHECK_BEFORE_LOAD = refusal(
  "bad-request",
  "The new scale is not complete: it needs its load point before it can be checked.",
  "Take the load point with calibration-load, then check.",
);
export const POINTS_MISSING = refusal(
  "bad-request",
  "Nothing was taken yet: the unloaded point and the load point are missing.",
  "Take them with calibration-zero and calibration-load; or check what is in force with calibration-check.",
);
export const LOAD_MISSING = refusal(
  "bad-request",
  "The load point is missing.",
  "Take it with calibration-load; a new unloaded point drops the one before.",
);
export const UNCHECKED = refusal(
  "bad-request",
  "No check load was hung: a line through two points cannot show its own error.",
  "Hang at least one with calibration-check, best another load than that of the load point.",
);
export const NO_LOAD_CHECKED = refusal(
  "bad-request",
  "Nothing but the empty sensor was checked.",
  "Hang at least one known load with calibration-check.",
);

export function pastDue(due: string, at: string): Refused {
  return refusal(
    "out-of-range",
    `The day on which it is due, ${due.slice(0, 10)}, is not after today, ${at.slice(0, 10)}.`,
    "Give a later day, or none.",
  );
}

/** Reached from above it must be what was reached from below. */
export function otherLoad(first: KnownLoad, second: KnownLoad): Refused {
  return refusal(
    "out-of-range",
    `From below it was a load of ${shown(first.force_N)} N, and this is one of ${shown(second.force_N)} N: their difference would pass for friction.`,
    "Come down to the same load, or take the new one with loading increasing.",
  );
}

/** Else the same reading twice would pass for a bearing without friction. */
export const neverAbove = ({ force_N }: KnownLoad): Refused =>
  refusal(
    "out-of-range",
    `The force never rose above the load of ${shown(force_N)} N since that was read from below, so this is not the load from above.`,
    "Put a little more on or press on it, come down to the load, let go, and take it again.",
  );

interface FarOff {
  readonly force_N: number;
  readonly relative_error: number;
}

const readsWrong = ({ force_N, relative_error }: FarOff): string =>
  `The check load of ${shown(force_N)} N reads ${shown(Math.abs(100 * relative_error))} % too ${relative_error < 0 ? "little" : "much"}`;

/** A line that misses a known load is not put in force. */
export const checkTooFarOff = (check: FarOff): Refused =>
  refusal(
    "out-of-range",
    `${readsWrong(check)}; 2 % beside its own tolerance would do.`,
    "Look whether it is the load it was said to be and hangs free, and check it again; else take both points anew.",
  );

/** Nor is a record that misses one said to be good until a later day. */
export const doesNotHold = (check: FarOff): Refused =>
  refusal(
    "out-of-range",
    `${readsWrong(check)}, so the record does not hold, and the day it is due is not moved.`,
    "Look whether it is the load it was said to be, and check it again; else accept without a day, and calibrate.",
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
