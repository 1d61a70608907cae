/** How the amplifier's range is used: where the rest lies in it, and whether capacity and an overload still fit. */
import { SATURATED_HIGH_COUNTS } from "../../protocol/units.ts";
import type { Found } from "./finding.ts";
import type { SensorFacts } from "./sample.ts";
import { digits, percent } from "./wording.ts";

const OVERLOAD = 1.25;
/** Unloaded, this far out: unbalanced, bent or miswired. */
const FAR_OUT = 0.5;
/** Less of the range than this for all of capacity wastes resolution, as bare gauges without trimming do. */
const LITTLE_USED = 0.05;

/** @param at_rest_counts where the sensor rests now. */
export function examineRange(at_rest_counts: number, facts: SensorFacts): Found {
  const { counts_per_N, cell_capacity_N } = facts;
  const rest_share = at_rest_counts / SATURATED_HIGH_COUNTS;
  const rest = `It rests at ${percent(rest_share)} of the amplifier's range`;
  const far_out = Math.abs(rest_share) > FAR_OUT;
  if (counts_per_N === null) {
    const values = { rest_share, capacity_share: null, saturates_at_N: null };
    const unsaid = "what capacity takes of it cannot be said without a calibration";
    return far_out
      ? { level: "notice", what: `${rest}, far out; ${unsaid}.`, do: BALANCE, values }
      : { level: "good", what: `${rest}; ${unsaid}.`, do: null, values };
  }
  const zero_counts = facts.zero_counts ?? at_rest_counts;
  const end_counts = Math.sign(counts_per_N) * SATURATED_HIGH_COUNTS;
  const saturates_at_N = (end_counts - zero_counts) / counts_per_N;
  const capacity_share = (cell_capacity_N * Math.abs(counts_per_N)) / SATURATED_HIGH_COUNTS;
  const values = { rest_share, capacity_share, saturates_at_N };
  const what = `${rest}, capacity takes ${percent(capacity_share)} of it, and it ends at ${digits(saturates_at_N)} N`;
  const less = `${facts.gain === 64 ? "Use" : "Set the gain to 64, or use"} a cell with less output or a larger capacity, then calibrate again.`;
  if (saturates_at_N < cell_capacity_N) {
    return {
      level: "fault",
      what: `${what}, below the cell's ${digits(cell_capacity_N)} N: greater forces cannot be read.`,
      do: less,
      values,
    };
  }
  if (saturates_at_N < OVERLOAD * cell_capacity_N) {
    return {
      level: "notice",
      what: `${what}, below ${percent(OVERLOAD)} of capacity: an overload would show as the end of the range only.`,
      do: `Keep the station's force limit well below it; or ${less.charAt(0).toLowerCase()}${less.slice(1)}`,
      values,
    };
  }
  if (far_out) return { level: "notice", what: `${what}; it rests far out.`, do: BALANCE, values };
  if (capacity_share < LITTLE_USED) {
    return {
      level: "notice",
      what: `${what}: capacity uses little of it, so resolution is wasted.`,
      do: `${facts.gain === 64 ? "Set the gain to 128, or use" : "Use"} a cell with more output or a smaller capacity, then calibrate again.`,
      values,
    };
  }
  return { level: "good", what: `${what}.`, do: null, values };
}

const BALANCE = "Take everything off the cell and look again; if it stays, the cell is bent, unbalanced or miswired.";
