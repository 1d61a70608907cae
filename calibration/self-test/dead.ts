/** Amplifiers that say nothing of the cell: at the end of their range, or repeating one value. */
import { isSaturated } from "../scale.ts";
import type { Found } from "./finding.ts";
import type { SensorFacts } from "./sample.ts";
import { percent, several } from "./wording.ts";

/** Fewer may be single readings gone wrong, and count as spikes. */
const SATURATED_SHARE = 0.1;
const SATURATED_IN_A_ROW = 3;
const STUCK_SHARE = 0.9;
const LEAST_VALUES = 3;

export function examineSaturation(counts: readonly number[]): Found {
  const saturated = counts.filter(isSaturated).length;
  const share = saturated / counts.length;
  const values = { saturated, share };
  if (saturated === 0)
    return { level: "good", what: "No reading is at the end of the amplifier's range.", do: null, values };
  if (share < SATURATED_SHARE && longestRun(counts) < SATURATED_IN_A_ROW) {
    return {
      level: "notice",
      what: `${several(saturated, "reading")} (${percent(share)}) at the end of the amplifier's range, so few that they are misread and not saturation.`,
      do: "See what is said of single wild readings.",
      values,
    };
  }
  return {
    level: "fault",
    what: `${percent(share)} of the readings are at the end of the amplifier's range: that is no force.`,
    do: "Take everything off the cell; if it stays, check the cell's plug and its four wires (a broken or swapped one does this), then the cell itself.",
    values,
  };
}

function longestRun(counts: readonly number[]): number {
  return counts.reduce(
    ({ run, longest }, value) => {
      const next = isSaturated(value) ? run + 1 : 0;
      return { run: next, longest: Math.max(longest, next) };
    },
    { run: 0, longest: 0 },
  ).longest;
}

/** Noise alone makes a live 24-bit amplifier take many values. A board that averages or rounds may repeat itself honestly. */
export function examineStuck(counts: readonly number[], dialect: SensorFacts["dialect"]): Found {
  const times = new Map<number, number>();
  for (const value of counts) times.set(value, (times.get(value) ?? 0) + 1);
  const [value, most] = [...times].reduce((best, each) => (each[1] > best[1] ? each : best));
  const share = most / counts.length;
  const values = { different_values: times.size, commonest_counts: value, share };
  if (times.size >= LEAST_VALUES && share < STUCK_SHARE) {
    return {
      level: "good",
      what: `The readings take ${times.size} different values, as a live amplifier's do.`,
      do: null,
      values,
    };
  }
  const what =
    times.size === 1
      ? `All ${counts.length} readings are ${value}`
      : `${percent(share)} of the readings are ${value}, of ${times.size} values in all`;
  return dialect === "bare"
    ? {
        level: "notice",
        what: `${what}: the board rounds or averages, or the amplifier is dead; this line cannot tell which.`,
        do: "Press on the handle: where the value does not move, check the amplifier; where it does, let the board print raw counts.",
        values,
      }
    : {
        level: "fault",
        what: `${what}: a live amplifier never repeats itself so.`,
        do: "Check the cell's plug and the amplifier's supply and data wires, restart the board, and see that its program prints raw counts.",
        values,
      };
}
