/** As left: known loads by the new scale, since a line through two points cannot show its own error. */

import { type Checked, takeCheckOr } from "./found.ts";
import { askAnotherLoad, type HungLoad, type Place } from "./loads.ts";
import type { Begun, Visit } from "./visit.ts";

/**
 * At least one load; then nothing on, to see whether it comes back. `before`: what was checked of this scale already. null: the
 * scale is to be begun again.
 */
export async function asLeft(
  visit: Visit,
  begun: Begun,
  place: Place,
  load: HungLoad,
  before: readonly Checked[],
): Promise<readonly Checked[] | null> {
  const { dialog } = visit;
  dialog.say("\nAs left: a line through two points cannot show its own error, a load beside them can.");
  let left = before;
  for (let first = true; ; ) {
    const other = await askAnotherLoad(visit, begun, {
      place,
      question: first ? "Which other load is there to check with?" : "Another check load?",
      otherwise: first
        ? `Best about half of ${load.said}, or between it and the working force; Enter: only ${load.said} is here.`
        : "Enter: no.",
    });
    if (other === null && !first) break;
    const hung = other ?? load;
    const taken = await takeCheckOr(visit, begun, {
      instruction: `Hang ${hung.said} in all. Let it down gently, never past where it comes to rest, then let go.`,
      load: hung,
      loading: "increasing",
      words: first ? ["other", "anew"] : ["skip", "anew"],
    });
    if (taken === "anew") return null;
    if (typeof taken === "string") continue;
    left = withNewest(left, taken);
    first = false;
  }
  const empty = await takeCheckOr(visit, begun, {
    instruction: "Take everything off, gently: what is left then shows how well the zero comes back.",
    load: null,
    loading: "decreasing",
    words: ["skip", "anew"],
  });
  if (empty === "anew") return null;
  return typeof empty === "string" ? left : withNewest(left, empty);
}

/** The recorder keeps the newest of one load; so does the summary. */
const withNewest = (left: readonly Checked[], taken: Checked): readonly Checked[] => [
  ...left.filter(({ check }) => Math.abs(check.force_N - taken.check.force_N) > 1e-6 * check.force_N),
  taken,
];
