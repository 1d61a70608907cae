/** The door at the machine: what its keys and tags ask for goes through the dispatcher like anything else. */
import { randomUUID } from "node:crypto";
import type { Dispatch } from "../control/dispatcher.ts";
import type { Log } from "../control/ports.ts";
import type { Store } from "../ports.ts";
import type { StationEffect } from "../station/exchange.ts";
import type { StationLoop } from "./station-loop.ts";

export interface MachinePorts {
  readonly dispatch: Dispatch;
  readonly store: Pick<Store, "tag">;
  readonly log: Pick<Log, "error">;
}

/** A refusal is blinked at whoever stands there. */
export async function atTheMachine(
  loop: Pick<StationLoop, "id" | "take">,
  effect: Extract<StationEffect, { do: "dispatch" | "look-up-tag" }>,
  { dispatch, store, log }: MachinePorts,
): Promise<void> {
  if (effect.do === "look-up-tag") {
    const { tag } = effect;
    try {
      const link = await store.tag(tag);
      loop.take({ kind: "tag-owner", tag, linked: link?.trainee ?? null });
    } catch (error) {
      // Taken for somebody it may not stand for, it would put a set into the wrong record.
      log.error({ err: error, station: loop.id }, "a tag could not be looked up");
      const why = "The record cannot be read, so nobody knows whose tag it is: use key 1.";
      loop.take({ kind: "key-refused", asked: null, why });
    }
    return;
  }
  const { verb, args } = effect;
  const outcome = await dispatch({ verb, args, groups: ["train"], door: "key", request_id: randomUUID() });
  if (!outcome.ok) loop.take({ kind: "key-refused", asked: verb, why: outcome.error.message });
}
