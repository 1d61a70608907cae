/** What a guided calibration says: the beginning with its cautions, one check, and the numbers of a scale in plain words. */
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { sayInstant } from "../../drawing/instants.ts";
import { CAUTIONS } from "../check-sheet/caveats.ts";
import { type House, sayForce, sayPercent } from "../quantities.ts";
import type { Checked } from "./found.ts";
import type { Begun } from "./visit.ts";

/** Common practice, no source; what the sheet says as well comes from there. */
export const BEFORE_ANYTHING_HANGS: readonly string[] = [
  "Nobody on, under or beside a hung load, and no hand or foot in its way.",
  "Stored energy is isolated: springs, raised weights, the motor off and locked.",
  "A sensor in the load path is a competent person's work.",
  ...CAUTIONS,
];

/** What the station is, what holds there now, and which loads would do. */
export function sayStation(begun: Begun, old: CalibrationRecord | null, house: House): string {
  const { cell_capacity_N, working_force_N, smallest_load_N, largest_load_N, gravity_m_s2 } = begun;
  const force = (force_N: number): string => sayForce(force_N, house, 0);
  const mass = (force_N: number): string => `${(force_N / gravity_m_s2).toPrecision(3)} kg`;
  return [
    `  cell           ${force(cell_capacity_N)}`,
    `  working force  ${force(working_force_N)}`,
    `  gravity here   ${gravity_m_s2.toFixed(4)} m/s2, from the configured latitude and altitude`,
    `  in force       ${old === null ? sayNothingInForce(begun) : sayRecord(old, house)}`,
    `  loads          ${force(smallest_load_N)} to ${force(largest_load_N)}, hung straight ${mass(smallest_load_N)} to ${mass(largest_load_N)};`,
    `                 for the scale best near ${mass(working_force_N)}, and another to check it`,
  ].join("\n");
}

const sayNothingInForce = ({ in_force }: Begun): string =>
  in_force === null ? "no record that fits what is on the line" : `record ${in_force}`;

const sayRecord = ({ at, performed_by, due }: CalibrationRecord, { time_zone }: House): string =>
  `a record of ${sayInstant(at, time_zone).slice(0, 10)}, by ${performed_by ?? "nobody named"}` +
  (due === null ? "" : `, due ${sayInstant(due, time_zone).slice(0, 10)}`);

/** `20 kg: 197.31 N for 196.17 N, 0.58 % too much` */
export function sayCheck({ said, check }: Checked, house: House): string {
  const { force_N, indicated_force_N, relative_error } = check;
  const reads = sayForce(indicated_force_N, house, 2);
  if (relative_error === null) return `${said}: ${reads}`;
  return `${said}: ${reads} for ${sayForce(force_N, house, 2)}, ${sayError(relative_error)}`;
}

/** A fraction, positive where the scale says more than hangs there. */
export function sayError(relative_error: number): string {
  const size = sayPercent(Math.abs(relative_error), 2);
  return size === "0.00 %" ? "right to 0.01 %" : `${size} too ${relative_error < 0 ? "little" : "much"}`;
}

const SOURCES: Readonly<Record<string, string>> = {
  "unloaded point": "the scatter with nothing on",
  "load point": "the scatter under load",
  "load tolerance": "how well the load is known",
  resolution: "the amplifier's steps",
  gravity: "gravity and buoyancy",
  "lever angle": "the lever's angle",
  friction: "friction in the bearing",
  "non-linearity": "how straight the sensor is",
  "zero return": "how the zero came back",
  repeatability: "the same load not reading the same",
};

/** A line of the budget for whoever never saw one. */
export const saySource = (source: string): string => SOURCES[source] ?? source;
