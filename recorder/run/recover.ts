/** Sets that were running when the recorder went away: kept as `interrupted`, as far as their checkpoints got. */
import type { SetToKeep, UnfinishedSet } from "../ports.ts";
import { type Kept, setMessageOf } from "../station/set-message.ts";
import { pathEvent, replayPath } from "../station/set-path.ts";
import { setupText } from "../station/setup-notes.ts";
import { readLog } from "./read-log.ts";

export type Recovered =
  | { readonly is: "set"; readonly set: Omit<SetToKeep, "topic"> }
  /** It came to no set: forget it. */
  | { readonly is: "nothing"; readonly why: string }
  /** Another version may read it: leave it where it is. */
  | { readonly is: "unreadable"; readonly why: string };

/** Throws where the log makes the engine or the message fail: a broken program, to be caught for each set. */
export function recover({ log }: UnfinishedSet, kept: Kept): Recovered {
  if (log.arm === null) return { is: "nothing", why: "its beginning was not kept" };
  const read = readLog(log);
  if (!read.ok) return { is: "unreadable", why: read.why };
  const path = replayPath(read.facts, read.log);
  const at_us = path.last_us;
  const event = { kind: "interrupted", at_us } as const;
  const { path: ended, effects } = pathEvent(path, event);
  // A set whose end was logged but not kept ends as it did.
  const over = ended.engine.is === "over" ? ended.engine.result : null;
  if (over === null) return { is: "nothing", why: "no effort of it was counted yet" };
  const events = effects.length === 0 ? log.events : [...log.events, { before: log.at_us.length, event }];
  return {
    is: "set",
    set: {
      message: setMessageOf(ended, over, kept),
      log: { ...log, events },
      setup: setupText(read.facts.setup_notes),
    },
  };
}
