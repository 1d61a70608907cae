/** Readings that never came and lines that could not be read. */
import type { Found } from "./finding.ts";
import type { Intervals } from "./intervals.ts";
import type { Sample, SensorFacts } from "./sample.ts";
import { digits, percent, several } from "./wording.ts";

const SERIOUS = 0.01;
/** A longer gap is not bridged in a set. */
const BRIDGED_S = 0.3;

export function examineLoss(sample: Sample, intervals: Intervals, facts: SensorFacts): Found {
  const { readings_lost } = sample;
  const { gaps_s, usual_s } = intervals;
  const share = readings_lost / (readings_lost + sample.counts.length);
  const longest_gap_s = gaps_s.length === 0 ? null : Math.max(...gaps_s);
  const values = { readings_lost, share, gaps: gaps_s.length, longest_gap_s };
  const bare = facts.dialect === "bare";
  if (readings_lost === 0 && longest_gap_s === null) {
    const blind = bare ? " that this line could show; it cannot count them" : "";
    return { level: "good", what: `No reading was lost${blind}.`, do: null, values };
  }
  const lost = readings_lost === 0 ? "" : `${several(readings_lost, "reading")} (${percent(share)}) never came`;
  const gap =
    longest_gap_s === null
      ? ""
      : `${several(gaps_s.length, "gap")} of up to ${digits(longest_gap_s)} s, where ${digits(usual_s)} s are usual`;
  const serious = share >= SERIOUS || (longest_gap_s !== null && longest_gap_s > BRIDGED_S);
  const bad = serious ? "a set would have pauses, or end" : "few enough to be bridged";
  return {
    level: serious ? "fault" : "notice",
    what: `${lost === "" ? `There was ${gap}` : [lost, gap].filter((part) => part !== "").join("; ")}: ${bad}.`,
    do: bare
      ? "Check plug and cable between board and box, and that nothing else keeps the box busy."
      : "Check plug and cable between board and box, that the board's program never waits while it sends, and the supply.",
    values,
  };
}

export function examineLines(sample: Sample): Found {
  const { lines_rejected, counts } = sample;
  const share = lines_rejected / (lines_rejected + counts.length);
  const values = { lines_rejected, share };
  if (lines_rejected === 0) return { level: "good", what: "Every line could be read.", do: null, values };
  return {
    level: share >= SERIOUS ? "fault" : "notice",
    what: `${several(lines_rejected, "line")} (${percent(share)}) could not be read: bytes were lost or changed on the way.`,
    do: "Use a short shielded cable between board and box, away from motors, with a common ground; check the baud rate on both ends.",
    values,
  };
}
