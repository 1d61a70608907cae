/**
 * The settled words of the wire, each set in one place: styles, sides, reasons, alarms, error codes.
 * Everything that speaks of them takes them from here.
 */

export const STYLES = ["hold", "continuous", "eccentric-only", "rest-pause"] as const;
export type Style = (typeof STYLES)[number];

export const SIDES = ["left", "right", "both"] as const;
export type Side = (typeof SIDES)[number];

/** maximal: as hard as possible. held: submaximal under a clinician's ceiling, the loss is of held force. */
export const INTENTS = ["maximal", "held"] as const;
export type Intent = (typeof INTENTS)[number];

/** locked: nothing moves. driven: a motor sets the speed. damped: speed sets the force. stack: weights. elastic: position sets the force. */
export const RESISTANCES = ["locked", "driven", "damped", "stack", "elastic"] as const;
export type Resistance = (typeof RESISTANCES)[number];

export const MUSCLE_ACTIONS = ["concentric", "eccentric", "isometric"] as const;
export type MuscleAction = (typeof MUSCLE_ACTIONS)[number];

/** idle: nobody set up. armed: waiting for the first effort. resting: inside a set, between efforts. finished: until the next begin or 120 s. */
export const PHASES = ["idle", "armed", "working", "resting", "finished"] as const;
export type Phase = (typeof PHASES)[number];

export const STOP_REASONS = [
  "hold-below-floor",
  "effort-below-floor",
  "let-go",
  "rest-limit",
  "time-limit",
  "effort-limit",
  "on-request",
  "overload",
  "sensor-fault",
  "interrupted",
] as const;
export type StopReason = (typeof STOP_REASONS)[number];

/** The reasons that cut a set short: what was measured then is not comparable. */
export const CUT_SHORT: ReadonlySet<StopReason> = new Set(["overload", "sensor-fault", "interrupted"]);

/** Why somebody asked for the end. */
export const ENDED_BECAUSE = ["done", "pain", "technique", "equipment", "mistake"] as const;
export type EndedBecause = (typeof ENDED_BECAUSE)[number];

/** Whose efforts decide: one muscle action where it is known, any effort where it is not. */
export const DECIDED_BY = ["concentric", "eccentric", "isometric", "any"] as const;
export type DecidedBy = (typeof DECIDED_BY)[number];

/** How a known load was reached (ISO 7500-1 speaks of increasing and decreasing forces). */
export const LOADINGS = ["increasing", "decreasing"] as const;
export type Loading = (typeof LOADINGS)[number];

export const ALARM_CODES = [
  "overload",
  "inspect",
  "sensor-fault",
  "zero-out-of-range",
  "zero-suspect",
  "zero-moved",
  "calibration-due",
  "calibration-mismatch",
  "storage",
  "not-authorised",
  "recorder-conflict",
] as const;
export type AlarmCode = (typeof ALARM_CODES)[number];

/** What the amplifier or its board can be at fault with; never a force, never zero. */
export const AMPLIFIER_FAULTS = ["amplifier-silent", "amplifier-saturated", "brownout", "watchdog", "overrun"] as const;
export type AmplifierFault = (typeof AMPLIFIER_FAULTS)[number];

export const ERROR_CODES = [
  "bad-request",
  "unknown-station",
  "busy",
  "not-still",
  "out-of-range",
  "no-calibration",
  "sensor-fault",
  "rate-too-low",
  "not-suited",
  "not-permitted",
  "expired",
  "storage",
  "internal",
] as const;
export type ErrorCode = (typeof ERROR_CODES)[number];

/** A refusal as it travels: what is wrong in one sentence, and what would do. */
export interface Refusal {
  readonly code: ErrorCode;
  readonly message: string;
  readonly hint?: string;
}
