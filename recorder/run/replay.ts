/** A kept set judged again from its input log, with other settings or by a newer engine; and its curve. Nothing is kept. */
import { forceOf, isSaturated } from "../../calibration/scale.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { Curve, CurveOf, ReplayChanges, ReplaySet } from "../control/ports.ts";
import type { InputLog } from "../ports.ts";
import { type ArmFacts, armFactsSchema } from "../station/arm-facts.ts";
import { setMessageOf } from "../station/set-message.ts";
import { pathEvent, replayPath, type SetPath } from "../station/set-path.ts";

/** Throws an Error whose message is one sentence where the log does not make a set under these settings. */
export const replaySet: ReplaySet = (message, log, changes) => {
  const facts = factsOf(log);
  const path = ended(replayPath(changed(facts, changes), log));
  if (path.engine.is !== "over") {
    throw new Error("With these settings no effort of this set is counted, so there is no set to show.");
  }
  const { recorder, boot, store } = message;
  const again = setMessageOf(path, path.engine.result, { recorder, boot, store });
  // What people said of the set afterwards stays said.
  const { set_seq, revision, zero_shift_N, void: is_void, pain, exertion, note } = message;
  return { ...again, set_seq, revision, zero_shift_N, void: is_void, pain, exertion, note };
};

/** With another floor the engine may want more readings than there are: the log then ends the set as the trainee did. */
function ended(path: SetPath): SetPath {
  if (path.engine.is === "over") return path;
  return pathEvent(path, { kind: "end", at_us: path.last_us, because: null }).path;
}

function changed(facts: ArmFacts, { fatigue_threshold, options }: ReplayChanges): ArmFacts {
  const given = Object.fromEntries(Object.entries(options ?? {}).filter(([, value]) => value !== undefined));
  const setup = {
    ...facts.setup,
    fatigue_threshold: fatigue_threshold ?? facts.setup.fatigue_threshold,
    options: { ...facts.setup.options, ...given },
  };
  return { ...facts, setup };
}

function factsOf(log: InputLog): ArmFacts {
  const facts = armFactsSchema.safeParse(log.arm);
  if (!facts.success) throw new Error("The set's input log has no beginning that this version can read.");
  return facts.data;
}

/** Force of every reading, by the record and the zero the set was measured with, on the set's own time. */
export const curveOf: CurveOf = async (log: InputLog, message: SetMessage): Promise<Curve> => {
  const facts = factsOf(log);
  const onset_us = facts.at_us + (Date.parse(message.started_at) - facts.wall_ms) * 1000;
  const elapsed_s: number[] = [];
  const force_N: (number | null)[] = [];
  for (let index = 0; index < log.at_us.length; index++) {
    const counts = log.counts[index] as number;
    elapsed_s.push(Math.round(((log.at_us[index] as number) - onset_us) / 1000) / 1000);
    const force = forceOf(counts, facts.zero_counts, facts.calibration.counts_per_N);
    force_N.push(isSaturated(counts) ? null : Math.round(force * 100) / 100);
  }
  return { elapsed_s, force_N };
};
