/** What a sheet is not, and what whoever hangs loads must mind. */

export const IS_NOT: readonly string[] = [
  "Not a calibration certificate.",
  "Not traceable by itself: it is as good as the loads, and only where those have certificates of their own.",
  "Not a verification to ISO 7500-1: its class limits are used, its procedure was not followed.",
  "Not a legal weighing result.",
];

/** Common practice, no source; local codes and the machine's maker say more. */
export const CAUTIONS: readonly string[] = [
  "Lock the machine and switch its motor off; nobody stands or reaches under a hanging load.",
  "Hang loads from a rated sling or hook, low above the floor, with a second line or a block under them.",
  "Never hang more than the weakest part of the load path carries; the recorder refuses what it knows to be too much.",
  "Put loads on and take them off slowly and by hand: a drop of a hand's breadth can overload a cell.",
  "Lift heavy plates with two people. Local rules and licensed practice come first.",
];
