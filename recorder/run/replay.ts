/** A kept set judged again from its input log, with other settings or by a newer engine; and its curve. Nothing is kept. */
import { forceOf, isSaturated } from "../../calibration/scale.ts";
import type { SetMessage } from "../../protocol/messages/set.ts";
import { forceOut, timeOut } from "../../protocol/units.ts";
import type { Curve, CurveOf, ReplayChanges, ReplaySet } from "../control/ports.ts";
import type { InputLog } from "../ports.ts";
import type { ArmFacts } from "../station/arm-facts.ts";
import { resolveAgain } from "../station/resolve-again.ts";
import { instantOf, setMessageOf } from "../station/set-message.ts";
import { pathEvent, replayParts, replayPath, type SetPath } from "../station/set-path.ts";
import { later } from "./clock.ts";
import { type ReadLog, readLog } from "./read-log.ts";

/** Throws an Error whose message is one sentence where the log does not make a set under these settings. */
export const replaySet: ReplaySet = (message, log, changes) => {
  const read = readable(log);
  const path = ended(replayPath(changed(read.facts, changes), read.log));
  if (path.engine.is !== "over") {
    throw new Error("With these settings no effort of this set is counted, so there is no set to show.");
  }
  const { recorder, boot, store } = message;
  const again = setMessageOf(path, path.engine.result, { recorder, boot, store });
  const shift_ms = dateShift_ms(message, read);
  const dates = {
    at: later(again.at, shift_ms),
    started_at: later(again.started_at, shift_ms),
    clock_synced: message.clock_synced,
  };
  // What people said of the set afterwards stays said.
  const { set_seq, revision, zero_shift_N, void: is_void, pain, exertion, note } = message;
  return { ...again, ...dates, set_seq, revision, zero_shift_N, void: is_void, pain, exertion, note };
};

/** How far a set was moved in time when the clock turned out to have been wrong; its log keeps what the clock said. */
function dateShift_ms(message: SetMessage, { facts, log }: ReadLog & { readonly ok: true }): number {
  if (message.clock_synced === facts.clock_synced) return 0;
  const path = ended(replayPath(facts, log));
  if (path.engine.is !== "over") return 0;
  return Date.parse(message.started_at) - Date.parse(instantOf(facts, path.engine.result.onset_us));
}

/** With another floor the engine may want more readings than there are: the log then ends the set as the trainee did. */
function ended(path: SetPath): SetPath {
  if (path.engine.is === "over") return path;
  return pathEvent(path, { kind: "end", at_us: path.last_us, because: null }).path;
}

/** The changed settings obey the rules of a begin: what the machine cannot show, no replay shows either. */
function changed(facts: ArmFacts, changes: ReplayChanges): ArmFacts {
  const made = resolveAgain(facts.setup, changes);
  if (!made.ok) throw new Error(made.error.message);
  return { ...facts, setup: made.setup };
}

function readable(log: InputLog): ReadLog & { readonly ok: true } {
  const read = readLog(log);
  if (!read.ok) throw new Error(`This set cannot be judged again: ${read.why}.`);
  return read;
}

/** Readings judged in one go, about 3 ms of them: a stop at another station waits for no more. */
const JUDGED_AT_ONCE = 1500;

/**
 * What a kept set would have come to at another threshold, as a message has it, a little at a time; its dates and its texts
 * are not worked out. null: it makes no set at all then. Throws as `replaySet` does.
 */
export async function figuresAt(
  message: SetMessage,
  log: InputLog,
  fatigue_threshold: number,
): Promise<SetMessage | null> {
  const read = readable(log);
  for (const path of replayParts(changed(read.facts, { fatigue_threshold }), read.log, JUDGED_AT_ONCE)) {
    if (path === null) {
      await new Promise(setImmediate);
      continue;
    }
    const { engine, ...rest } = ended(path);
    return engine.is === "over" ? setMessageOf({ ...rest, engine }, engine.result, message) : null;
  }
  return null;
}

/** Readings turned into force in one go: the stations wait for no more, however long the set was. */
const READINGS_AT_ONCE = 2000;

/** Force of every reading, by the record and the zero the set was measured with, on the set's own time. */
export const curveOf: CurveOf = async (log: InputLog, message: SetMessage): Promise<Curve> => {
  const read = readable(log);
  const { facts } = read;
  const started_ms = Date.parse(message.started_at) - dateShift_ms(message, read);
  const onset_us = facts.at_us + (started_ms - facts.wall_ms) * 1000;
  const elapsed_s: number[] = [];
  const force_N: (number | null)[] = [];
  for (let index = 0; index < log.at_us.length; index++) {
    if (index % READINGS_AT_ONCE === READINGS_AT_ONCE - 1) await new Promise(setImmediate);
    const counts = log.counts[index] as number;
    elapsed_s.push(timeOut(((log.at_us[index] as number) - onset_us) / 1e6) ?? 0);
    const force = forceOf(counts, facts.zero_counts, facts.calibration.counts_per_N);
    force_N.push(isSaturated(counts) ? null : forceOut(force));
  }
  return { elapsed_s, force_N };
};
