/** Sets that were running when the recorder went away: kept as `interrupted`, as far as their checkpoints got. */
import type { SetToKeep, UnfinishedSet } from "../ports.ts";
import { armFactsSchema } from "../station/arm-facts.ts";
import { type Kept, setMessageOf } from "../station/set-message.ts";
import { pathEvent, replayPath } from "../station/set-path.ts";

export type Recovered =
  | { readonly is: "set"; readonly set: Omit<SetToKeep, "topic">; readonly station: string }
  /** It came to no set, or its log cannot be read: forget it. */
  | { readonly is: "nothing"; readonly set_id: string; readonly why: string };

export function recover(unfinished: UnfinishedSet, kept: Kept): Recovered {
  const { set_id, station, log } = unfinished;
  const facts = armFactsSchema.safeParse(log.arm);
  if (!facts.success) return { is: "nothing", set_id, why: "its beginning was not kept" };
  const path = replayPath(facts.data, log);
  const at_us = path.last_us;
  const event = { kind: "interrupted", at_us } as const;
  const { path: ended, effects } = pathEvent(path, event);
  // A set whose end was logged but not kept ends as it did.
  const over = ended.engine.is === "over" ? ended.engine.result : null;
  if (over === null) return { is: "nothing", set_id, why: "no effort of it was counted yet" };
  const events = effects.length === 0 ? log.events : [...log.events, { before: log.at_us.length, event }];
  return { is: "set", station, set: { message: setMessageOf(ended, over, kept), log: { ...log, events }, setup: "" } };
}
