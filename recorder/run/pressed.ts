/** The door at the machine: what its keys and tags ask for goes through the dispatcher like anything else. */
import { randomUUID } from "node:crypto";
import type { Dispatch } from "../control/dispatcher.ts";
import type { StationEffect } from "../station/exchange.ts";
import type { StationLoop } from "./station-loop.ts";

/** A refusal is blinked at whoever stands there. */
export async function pressed(
  loop: StationLoop,
  { verb, args }: Extract<StationEffect, { do: "dispatch" }>,
  dispatch: Dispatch,
): Promise<void> {
  const outcome = await dispatch({ verb, args, groups: ["train"], door: "key", request_id: randomUUID() });
  if (!outcome.ok) loop.take({ kind: "key-refused", why: outcome.error.message });
}
