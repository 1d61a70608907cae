/**
 * How far averaging helps, from the Allan deviation: which length is best, where the value itself begins to wander, and what is left
 * over the two smoothing windows of a set.
 *
 * Two neighbouring means over a second lie sqrt(2) deviations apart. A sensor counts as still while they lie within two divisions, so
 * with three sigma the deviation at a second may be 2 / (3 sqrt(2)) = 0.47 divisions.
 */
import { type Deviation, deviationAt, deviations } from "./allan.ts";
import type { Found } from "./finding.ts";
import { amount, digits, newtons } from "./wording.ts";
import type { Yardstick } from "./yardstick.ts";

const UNSTEADY_DIVISIONS = 2 / (3 * Math.SQRT2);
/** Left over a second beyond this many times what independent readings would leave: the value wanders. */
const WANDERS = 3;
const WANDERING_DIVISIONS = 0.05;
const WINDOWS_S = [0.2, 1] as const;

/** @param counts without wild readings, @param interval_s apart. @returns null where there are too few for one length. */
export function examineAveraging(counts: readonly number[], interval_s: number, yardstick: Yardstick): Found | null {
  const table = deviations(counts, interval_s);
  const [single] = table;
  const last = table.at(-1);
  if (single === undefined || last === undefined || last.readings < 2) return null;
  const { counts_per_N, d_counts } = yardstick;
  const windows = WINDOWS_S.map((window_s) => {
    const readings = Math.max(1, Math.round(window_s / interval_s));
    return readings <= last.readings ? deviationAt(counts, readings, interval_s) : null;
  });
  const best = table.reduce((least, each) => (each.deviation < least.deviation ? each : least));
  const rising = table.find(
    (each) => each.tau_s > best.tau_s && each.deviation * (1 - 2 * each.relative_error) > best.deviation,
  );
  const second = windows[1] ?? last;
  const independent_counts = single.deviation / Math.sqrt(second.readings);
  const values = {
    best_tau_s: best.tau_s,
    best_counts: best.deviation,
    best_N: newtons(best.deviation, counts_per_N),
    rises_from_s: rising?.tau_s ?? null,
    longest_tau_s: last.tau_s,
    smoothed_0_2_s_counts: windows[0]?.deviation ?? null,
    smoothed_1_s_counts: windows[1]?.deviation ?? null,
    independent_1_s_counts: independent_counts,
    ...Object.fromEntries(table.map((each) => [`over_${digits(each.tau_s)}_s_counts`, each.deviation])),
  };
  const left = windows
    .map((each, index) => (each === null ? "" : `over ${WINDOWS_S[index]} s ${amount(each.deviation, counts_per_N)}`))
    .filter((part) => part !== "")
    .join(", ");
  const what = `A single reading scatters by ${amount(single.deviation, counts_per_N)}${left === "" ? "" : `, means ${left}`}; ${reach(best, last, rising)}`;
  const unsteady = second.deviation > UNSTEADY_DIVISIONS * d_counts;
  const wanders = second.deviation > Math.max(WANDERS * independent_counts, WANDERING_DIVISIONS * d_counts);
  if (unsteady || wanders) {
    const times = digits(second.deviation / independent_counts);
    const bad = unsteady ? "it will often not count as still" : "the work can bear it";
    return {
      level: unsteady ? "fault" : "notice",
      what: `${what}; over ${digits(second.tau_s)} s there is ${times} times what independent readings would leave: ${bad}.`,
      do: "Give the amplifier a quiet supply of its own, keep draught off it, check its solder joints and the cell's plug; if the value still jumps between levels, replace the amplifier.",
      values,
    };
  }
  return { level: "good", what: `${what}.`, do: null, values };
}

function reach(best: Deviation, last: Deviation, rising: Deviation | undefined): string {
  const told = `${digits(last.tau_s)} s, the longest these readings can tell of`;
  if (rising !== undefined) {
    const from = `from ${digits(rising.tau_s)} s on the value wanders`;
    return best.readings === 1
      ? `averaging does not help, ${from}`
      : `averaging helps up to ${digits(best.tau_s)} s, ${from}`;
  }
  return best.readings === last.readings
    ? `averaging helps up to ${told}`
    : `averaging helps up to ${digits(best.tau_s)} s, and nothing wanders up to ${told}`;
}
