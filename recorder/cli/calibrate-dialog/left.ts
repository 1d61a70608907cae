/** As left: known loads by the new scale, since a line through two points cannot show its own error. */
import { isTooFarOff, USABLE } from "../../../calibration/check-report/verdict.ts";
import { sayPercent } from "../quantities.ts";
import { type Checked, type CheckStep, takeCheckOr } from "./found.ts";
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
    const taken = await takeUntilSure(visit, begun, {
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
  const empty = await takeUntilSure(visit, begun, {
    instruction: "Take everything off, gently: what is left then shows how well the zero comes back.",
    load: null,
    loading: "decreasing",
    words: ["skip", "anew"],
  });
  if (empty === "anew") return null;
  return typeof empty === "string" ? left : withNewest(left, empty);
}

/** What is far off is doubted while it still hangs there, and not first where it is to be kept. */
async function takeUntilSure(visit: Visit, begun: Begun, step: CheckStep): Promise<Checked | string> {
  const { dialog } = visit;
  for (;;) {
    const taken = await takeCheckOr(visit, begun, step);
    const doubt = typeof taken === "string" ? null : doubtOf(taken, begun);
    if (doubt === null) return taken;
    dialog.say(`  ${doubt}`);
    if (!(await dialog.yes("Read it again?", true))) return taken;
  }
}

function doubtOf({ said, check }: Checked, { working_force_N }: Begun): string | null {
  if (check.force_N > 0) {
    if (!isTooFarOff(check)) return null;
    return `So far off nothing is kept: look whether it is ${said} and hangs free.`;
  }
  if (Math.abs(check.indicated_force_N) <= USABLE * working_force_N) return null;
  return `That is more than ${sayPercent(USABLE)} of the working force: look whether something still hangs or touches there.`;
}

/** The recorder keeps the newest of one load; so does the summary. */
const withNewest = (left: readonly Checked[], taken: Checked): readonly Checked[] => [
  ...left.filter(({ check }) => Math.abs(check.force_N - taken.check.force_N) > 1e-6 * check.force_N),
  taken,
];
